// What is tapped waits here until the laptop has it. Nothing is ever dropped silently.
// Two stores: "waiting", sent oldest first, and "refused", shown until the maker puts it aside and then
// still kept to be read.

const RETRY_MS = [1000, 2000, 5000, 10000, 30000];
const TIMEOUT_MS = 8000;
const ASK_MS = 3000;
const listeners = new Set();
let opened;
let sending = false;
let again = false;
let tries = 0;
let timer;

function box() {
  opened ??= new Promise((resolve, reject) => {
    const request = indexedDB.open("benchside", 1);
    request.onupgradeneeded = () => {
      for (const name of ["waiting", "refused"]) {
        request.result.createObjectStore(name, { keyPath: "order", autoIncrement: true });
      }
    };
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
  return opened;
}

async function inBox(mode, work) {
  const transaction = (await box()).transaction(["waiting", "refused"], mode, { durability: "strict" });
  const request = work((name) => transaction.objectStore(name));
  return new Promise((resolve, reject) => {
    transaction.oncomplete = () => resolve(request?.result);
    transaction.onerror = transaction.onabort = () => reject(transaction.error);
  });
}

/** 32 hex digits. crypto.randomUUID is missing over plain http; this is not. */
export function freshKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return Array.from(bytes, (b) => b.toString(16).padStart(2, "0")).join("");
}

/** What has not been sent yet, oldest first. */
export const waiting = () => inBox("readonly", (store) => store("waiting").getAll());

const handedBack = () => inBox("readonly", (store) => store("refused").getAll());

/** What the laptop would not take and nobody has put aside yet, oldest first. */
export const refused = async () => (await handedBack()).filter((item) => !item.aside);

/** What was put aside, oldest first. */
export const setAside = async () => (await handedBack()).filter((item) => item.aside);

/** Put refused things aside: they are not shown any more, but stay on this phone. */
export async function putAside(items) {
  const aside = new Date().toISOString();
  await inBox("readwrite", (store) => items.forEach((item) => store("refused").put({ ...item, aside })));
  await tell({ kind: "aside" });
}

/** A refused thing stands in its field again, so that it is not kept here as well. */
export async function giveBack({ order }) {
  await inBox("readwrite", (store) => store("refused").delete(order));
  await tell({ kind: "aside" });
}

/** What was refused only because another database was open waits again, now that its own is. */
export async function takeBack() {
  const { database } = document.documentElement.dataset;
  const own = (await refused()).filter(({ fields, reply }) => reply.field === "database" && fields.database === database);
  await inBox("readwrite", (store) =>
    own.forEach(({ order, reply: _, ...item }) => {
      store("waiting").add(item);
      store("refused").delete(order);
    }),
  );
}

/** Hear of every change: {kind: "put"|"kept"|"later"|"refused"|"aside", item?, reply?, waiting, refused}. */
export function listen(hear) {
  listeners.add(hear);
}

/** Keep one thing, then send it. Rejects when this browser has no room to keep it. */
export async function put({ url, fields, label }) {
  const item = {
    url,
    label,
    fields: {
      key: freshKey(),
      database: document.documentElement.dataset.database,
      taken_at: new Date().toISOString(),
      ...fields,
    },
  };
  item.order = await inBox("readwrite", (store) => store("waiting").add(item));
  await tell({ kind: "put", item });
  flush();
  return item;
}

/** Send what waits, in order, one at a time; stop at the first that gets no answer. */
async function flush() {
  if (sending) {
    again = true;
    return;
  }
  sending = true;
  again = false;
  clearTimeout(timer);
  try {
    let item;
    while ((item = (await waiting())[0])) {
      const reply = await send(item);
      if (reply.outcome === "later") {
        timer = setTimeout(flush, RETRY_MS[Math.min(tries++, RETRY_MS.length - 1)]);
        await tell({ kind: "later", item, reply });
        break;
      }
      tries = 0;
      await inBox("readwrite", (store) => {
        if (reply.outcome === "refused") store("refused").add({ ...without(item), reply });
        return store("waiting").delete(item.order);
      });
      await tell({ kind: reply.outcome, item, reply });
    }
  } finally {
    sending = false;
  }
  if (again) await flush();
}

const without = ({ order: _, ...rest }) => rest;

/** Three outcomes only: "kept", "refused", or "later" when no answer of ours came. */
async function send({ url, fields }) {
  try {
    const answer = await fetch(url, {
      method: "POST",
      headers: { Accept: "application/json" },
      body: new URLSearchParams({ ...fields, sent_at: new Date().toISOString() }),
      signal: AbortSignal.timeout(TIMEOUT_MS),
    });
    const said = await answer.json();
    if (answer.status >= 500) return { outcome: "later", ...said };
    // An unpaired phone keeps what it has: paired again, it sends it.
    if (answer.status === 403) return { outcome: "later", unpaired: true, ...said };
    return { outcome: answer.ok ? "kept" : "refused", ...said };
  } catch {
    return { outcome: "later" };
  }
}

async function tell(news) {
  const counts = { waiting: await waiting(), refused: await refused() };
  for (const hear of listeners) hear({ ...news, ...counts });
}

/** Whether the laptop answers at all, now. */
export const answers = () =>
  fetch(import.meta.url, { method: "HEAD", cache: "no-store", signal: AbortSignal.timeout(ASK_MS) }).then(() => true, () => false);

/** Try now and whenever the chance is good. */
export function keepTrying() {
  addEventListener("online", flush);
  addEventListener("pageshow", flush);
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") flush();
  });
  flush();
}
