// The phone's own store: opened, brought up to date, and asked in transactions that are over only when they are kept.

export const NAME = "stowbook-scan";
export const VERSION = 2;

/** Each step brings a store of the version before to its own; a queue written by an old page is carried along. */
const STEPS = {
  1(db) {
    db.createObjectStore("queue", { keyPath: "id" });
    db.createObjectStore("phone");
  },
  2(db, change) {
    const scans = db.createObjectStore("scans", { keyPath: "id" });
    scans.createIndex("state", ["state", "maker", "seq"]);
    const drawer = db.createObjectStore("drawer");
    db.createObjectStore("photos");
    carryPhone(change.objectStore("phone"), drawer, (device) => carryQueue(change.objectStore("queue"), scans, device));
  },
};

function carryPhone(from, to, then) {
  from.openCursor().onsuccess = (event) => {
    const cursor = event.target.result;
    if (!cursor) return (from.get("phone").onsuccess = (found) => then(found.target.result?.device || ""));
    to.put(cursor.value, cursor.key);
    cursor.continue();
  };
}

function carryQueue(from, to, device) {
  from.openCursor().onsuccess = (event) => {
    const cursor = event.target.result;
    if (!cursor) return;
    const { id, body, sent } = cursor.value;
    to.put({
      id, body, maker: device, seq: body.device_seq, mine: 1, state: sent ? "sent" : "unsent", act: body.act || id,
      at: Date.parse(body.happened_at || body.taken_at), word: "", sentence: body.code || body.verb, undone: false,
    });
    cursor.continue();
  };
}

/** Open the store, or reject with what stands in the way. `outdated` is called when a newer page wants to change it. */
export function open(outdated = () => {}, version = VERSION) {
  return new Promise((ok, fail) => {
    const asked = indexedDB.open(NAME, version);
    asked.onupgradeneeded = (event) => {
      for (let step = event.oldVersion + 1; step <= version; step++) STEPS[step](asked.result, asked.transaction);
    };
    asked.onerror = () => fail(asked.error);
    asked.onblocked = () => outdated("blocked");
    asked.onsuccess = () => {
      asked.result.onversionchange = () => {
        asked.result.close();
        outdated("newer");
      };
      ok(asked.result);
    };
  });
}

/**
 * Run `work(stores)` in one transaction and resolve with what it returned once the disk has it.
 * `work` may call `get`, `all`, `put` on each store; their promises resolve inside the transaction.
 */
export function transact(db, names, mode, work) {
  return new Promise((ok, fail) => {
    let result;
    let problem;
    const change = db.transaction(names, mode, { durability: "strict" });
    change.oncomplete = () => ok(result);
    change.onabort = () => fail(problem || change.error || new Error("the store gave up"));
    Promise.resolve(work(Object.fromEntries(names.map((name) => [name, change.objectStore(name)]))))
      .then((value) => (result = value))
      .catch((why) => {
        problem = why;
        try {
          change.abort();
        } catch {
          fail(why); // it was over already
        }
      });
  });
}

/** A request of IndexedDB as a promise. */
export function done(request) {
  return new Promise((ok, fail) => {
    request.onsuccess = () => ok(request.result);
    request.onerror = (event) => {
      event.preventDefault();
      event.stopPropagation();
      fail(request.error);
    };
  });
}
