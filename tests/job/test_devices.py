from __future__ import annotations

import hashlib
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchside.errors import BenchsideError, DatabaseTrouble, NotFound, NotUnderstood, OutOfRange
from benchside.job import devices
from benchside.job.devices import ALPHABET, CodeRefused, PairingCodes, TooManyTries
from benchside.moments import as_text
from benchside.store import devices as store
from benchside.store.database import Shop

START = datetime(2026, 3, 1, 9, 0, tzinfo=UTC)


def at(minutes: float = 0) -> str:
    moment = START + timedelta(minutes=minutes)
    return as_text(moment)


@pytest.fixture
def codes() -> PairingCodes:
    return PairingCodes()


def wrong(code: str) -> str:
    """A code of the right form that is not this one."""
    return ("A" if code[0] != "A" else "C") + code[1:]


def test_a_code_has_eight_signs_none_taken_for_another(codes: PairingCodes) -> None:
    code = codes.make(at())
    assert len(code) == 8
    assert set(code) <= set(ALPHABET)
    assert not set("0O1IL2Z5S8B") & set(ALPHABET)


def test_a_phone_shows_its_secret_and_is_known(shop: Shop, codes: PairingCodes) -> None:
    device, secret = devices.pair(shop, codes, codes.make(at()), "Phone by the lathe", at(1))
    assert device.name == "Phone by the lathe"
    assert device.paired_at == device.last_seen_at == at(1)
    assert devices.known(shop, secret, at(2)) is not None
    assert devices.known(shop, "0" * 64, at(2)) is None


def test_the_database_holds_the_hash_of_a_secret_and_never_the_secret(
    shop: Shop, codes: PairingCodes
) -> None:
    _, secret = devices.pair(shop, codes, codes.make(at()), "Phone", at())
    (kept,) = shop.db.execute("SELECT secret_hash FROM device").fetchone()
    assert kept == hashlib.sha256(secret.encode()).hexdigest()
    assert len(bytes.fromhex(secret)) == 32
    assert secret not in "\n".join(shop.db.conn.iterdump())


def test_a_code_lets_one_device_in_only(shop: Shop, codes: PairingCodes) -> None:
    code = codes.make(at())
    devices.pair(shop, codes, code, "First", at())
    with pytest.raises(CodeRefused, match="has been used"):
        devices.pair(shop, codes, code, "Second", at())
    assert [d.name for d in store.listed(shop)] == ["First"]


def test_of_two_phones_with_one_code_at_the_same_moment_one_gets_in(
    shop: Shop, codes: PairingCodes
) -> None:
    code = codes.make(at())

    def try_it(name: str) -> bool:
        try:
            devices.pair(shop, codes, code, name, at())
        except CodeRefused:
            return False
        return True

    with ThreadPoolExecutor(8) as pool:
        got_in = list(pool.map(try_it, [f"Phone {n}" for n in range(8)]))
    assert got_in.count(True) == 1
    assert len(store.listed(shop)) == 1


def test_a_code_is_good_for_ten_minutes(shop: Shop, codes: PairingCodes) -> None:
    early, late = codes.make(at()), codes.make(at())
    devices.pair(shop, codes, early, "In time", at(9.99))
    with pytest.raises(CodeRefused, match="more than 10 minutes old"):
        devices.pair(shop, codes, late, "Too late", at(10))


@pytest.mark.parametrize("change", [str.lower, lambda c: f" {c[:4]} {c[4:]} ", "–".join])
def test_a_code_may_be_typed_small_spaced_or_with_dashes(change, codes: PairingCodes) -> None:
    codes.spend(change(codes.make(at())), at())


def test_after_ten_wrong_codes_none_is_taken_until_ten_minutes_have_gone(
    codes: PairingCodes,
) -> None:
    good = codes.make(at(5))
    for n in range(10):
        with pytest.raises(CodeRefused):
            codes.spend(wrong(good), at(5 + n / 10))
    with pytest.raises(TooManyTries) as refused:
        codes.spend(good, at(6))
    assert refused.value.hint.startswith("Wait 9 minutes")
    assert refused.value.wait_s == 9 * 60
    with pytest.raises(TooManyTries, match="Wait 1 minute,"):
        codes.spend(good, at(14.99))
    codes.spend(codes.make(at(15)), at(15))


def test_ten_wrong_codes_over_a_longer_time_keep_nobody_out(codes: PairingCodes) -> None:
    for n in range(20):
        with pytest.raises(CodeRefused):
            codes.spend("AAAAAAAA", at(n * 1.2))
    codes.spend(codes.make(at(25)), at(25))


def test_an_old_or_used_code_typed_again_is_not_counted_as_guessing(codes: PairingCodes) -> None:
    used = codes.make(at())
    codes.spend(used, at())
    for _ in range(15):
        with pytest.raises(CodeRefused, match="used"):
            codes.spend(used, at(1))
    codes.spend(codes.make(at(2)), at(2))


def test_at_most_four_codes_are_open_and_the_oldest_gives_way(codes: PairingCodes) -> None:
    made = [codes.make(at(n / 10)) for n in range(5)]
    with pytest.raises(CodeRefused, match="newer code"):
        codes.spend(made[0], at(1))
    for code in made[1:]:
        codes.spend(code, at(1))


def test_a_device_that_makes_another_code_takes_its_own_last_one_back(
    codes: PairingCodes,
) -> None:
    first, others = codes.make(at(), made_by=1), codes.make(at(), made_by=2)
    second = codes.make(at(), made_by=1)
    waiting = codes.open_for(1, at(1))
    assert waiting is not None
    assert (waiting.code, waiting.minutes) == (second, 9)
    with pytest.raises(CodeRefused, match="newer code"):
        codes.spend(first, at(1))
    codes.spend(second, at(1))
    assert codes.open_for(1, at(1)) is None
    codes.spend(others, at(1))


def test_a_code_is_not_used_up_by_a_device_without_a_name(shop: Shop, codes: PairingCodes) -> None:
    code = codes.make(at())
    with pytest.raises(NotUnderstood) as refused:
        devices.pair(shop, codes, code, " \t ", at())
    assert refused.value.field == "name"
    devices.pair(shop, codes, code, "Phone", at())


def test_a_code_is_not_used_up_when_the_device_cannot_be_kept(
    shop: Shop, codes: PairingCodes
) -> None:
    code = codes.make(at())
    shop.db.execute("PRAGMA query_only = ON")
    with pytest.raises(DatabaseTrouble):
        devices.pair(shop, codes, code, "Phone", at())
    shop.db.execute("PRAGMA query_only = OFF")
    devices.pair(shop, codes, code, "Phone", at())


@pytest.mark.parametrize("typed", ["", "   ", "- -"])
def test_no_code_is_asked_for_and_not_counted(typed: str, codes: PairingCodes) -> None:
    for _ in range(12):
        with pytest.raises(NotUnderstood):
            codes.spend(typed, at())
    codes.spend(codes.make(at()), at())


@given(st.text(max_size=200))
def test_whatever_is_typed_for_a_code_is_refused_with_a_sentence(typed: str) -> None:
    codes = PairingCodes()
    codes.make(at())
    with pytest.raises(BenchsideError) as refused:
        codes.spend(typed, at())
    assert refused.value.message.endswith(".")


@given(st.text(max_size=200))
def test_a_name_is_kept_on_one_line_of_at_most_sixty_letters(name: str) -> None:
    kept = devices.named(("n" + name)[:60])
    assert kept.isprintable()
    assert 0 < len(kept) <= 60
    assert devices.named(kept) == kept


def test_a_name_that_is_too_long_is_refused() -> None:
    assert devices.named("n" * 60) == "n" * 60
    with pytest.raises(OutOfRange, match="61 letters") as refused:
        devices.named("n" * 61)
    assert refused.value.field == "name"


def test_a_phone_shut_out_is_known_no_more_and_its_row_stays(
    shop: Shop, codes: PairingCodes
) -> None:
    device, secret = devices.pair(shop, codes, codes.make(at()), "Lost phone", at())
    assert devices.shut_out(shop, device.id, at(3)).shut_out_at == at(3)
    assert devices.known(shop, secret, at(4)) is None
    assert store.listed(shop) == []
    assert [d.name for d in store.listed(shop, shut_out=True)] == ["Lost phone"]


def test_shutting_out_twice_changes_nothing(shop: Shop, codes: PairingCodes) -> None:
    device, _ = devices.pair(shop, codes, codes.make(at()), "Phone", at())
    first = devices.shut_out(shop, device.id, at(3))
    assert devices.shut_out(shop, device.id, at(5)) == first


def test_a_phone_that_never_was_cannot_be_shut_out(shop: Shop) -> None:
    with pytest.raises(NotFound):
        devices.shut_out(shop, 7, at())


def test_when_a_phone_came_by_is_noted_at_most_once_a_minute(
    shop: Shop, codes: PairingCodes
) -> None:
    device, secret = devices.pair(shop, codes, codes.make(at()), "Phone", at())
    devices.known(shop, secret, at(0.9))
    assert store.found(shop, device.id).last_seen_at == at()
    devices.known(shop, secret, at(1.5))
    devices.known(shop, secret, at(2.4))
    assert store.found(shop, device.id).last_seen_at == at(1.5)


def test_a_phone_is_let_in_though_its_visit_cannot_be_noted(
    shop: Shop, codes: PairingCodes
) -> None:
    device, secret = devices.pair(shop, codes, codes.make(at()), "Phone", at())
    shop.db.execute("PRAGMA query_only = ON")
    assert devices.known(shop, secret, at(5)) == device


@pytest.mark.parametrize("secret", ["", "x", "0" * 63, "G" * 64, "0" * 10_000, "' OR 1=1 --"])
def test_a_secret_of_another_form_lets_nobody_in(
    secret: str, shop: Shop, codes: PairingCodes
) -> None:
    devices.pair(shop, codes, codes.make(at()), "Phone", at())
    assert devices.known(shop, secret, at()) is None


def test_a_second_phone_is_offered_a_name_of_its_own(shop: Shop, codes: PairingCodes) -> None:
    assert devices.free_name(shop, "Phone") == "Phone"
    for expected in ["Phone", "Phone 2", "Phone 3"]:
        offered = devices.free_name(shop, "Phone")
        assert offered == expected
        devices.pair(shop, codes, codes.make(at()), offered, at())
