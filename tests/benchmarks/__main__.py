"""Speed as ratios against a baseline measured in the same run. Prints; never fails on time.

python -m tests.benchmarks
"""

from __future__ import annotations

from tests.benchmarks import choose, reading, review, stiffness, stock


def main() -> None:
    for part in (reading, review, choose, stock, stiffness):
        for line in part.measure():
            print(line)


if __name__ == "__main__":
    main()
