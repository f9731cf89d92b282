/* What this tablet holds, in IndexedDB: the pack it took along, the visits as they stand, every tap
   as an entry on its way home, and photographs as ArrayBuffer (WebKit loses Blobs).
   A promise of this module is kept when its transaction is complete, not when it was asked for. */
const NAME = "caststead-tablet";
const VERSION = 1;
let opening = null;
let wiped = false;

function open() {
  // Nothing that was still under way may make it anew: this window is at its end.
  if (wiped) return new Promise(() => {});
  opening ??= new Promise((resolve, reject) => {
    const asked = indexedDB.open(NAME, VERSION);
    asked.onupgradeneeded = () => {
      asked.result.createObjectStore("settings");
      asked.result.createObjectStore("entries", { keyPath: "seq" }).createIndex("key", "key");
      asked.result.createObjectStore("photos", { keyPath: "key" });
      asked.result.createObjectStore("visits", { keyPath: "sitting" });
      asked.result.createObjectStore("told", { keyPath: "key" });
    };
    asked.onsuccess = () => {
      const db = asked.result;
      // Another window wipes or renews the store: let it, and open anew at the next need.
      db.onversionchange = db.onclose = () => {
        db.close();
        opening = null;
      };
      resolve(db);
    };
    asked.onerror = () => {
      opening = null;
      reject(asked.error);
    };
  });
  return opening;
}

/** One transaction; `work(stores, give)` asks, `give(value)` sets what the promise brings. */
async function transact(names, mode, work) {
  const db = await open();
  return new Promise((resolve, reject) => {
    const deal = db.transaction(names, mode, { durability: "strict" });
    let given;
    deal.oncomplete = () => resolve(given);
    deal.onabort = deal.onerror = () => reject(deal.error ?? new Error("The tablet's store gave up."));
    const stores = Object.fromEntries(names.map((name) => [name, deal.objectStore(name)]));
    work(stores, (value) => (given = value), deal);
  });
}

function all(name) {
  return transact([name], "readonly", (stores, give) => {
    stores[name].getAll().onsuccess = (event) => give(event.target.result);
  });
}

export function get(name) {
  return transact(["settings"], "readonly", ({ settings }, give) => {
    settings.get(name).onsuccess = (event) => give(event.target.result);
  });
}

export function set(facts) {
  return transact(["settings"], "readwrite", ({ settings }) => {
    for (const [name, value] of Object.entries(facts)) settings.put(value, name);
  });
}

export const visits = () => all("visits");
export const entries = () => all("entries"); // in the order of seq
export const photos = () => all("photos");
export const told = () => all("told"); // refusals and conflicts that a person has not looked at

/** The name of this tablet to the server: made once, until it is wiped. */
export function device() {
  return transact(["settings"], "readwrite", ({ settings }, give) => {
    settings.get("device").onsuccess = (event) => {
      const known = event.target.result ?? crypto.randomUUID();
      settings.put(known, "device");
      give(known);
    };
  });
}

export class ChangedElsewhere extends Error {}

/** The visit as it stands after a tap, the tap's entries and its photograph: all of it or none.
    Entries get the next numbers of this tablet. Rejects with ChangedElsewhere where another window
    of this tablet wrote the visit after it was read. */
export function keep(visit, said, photo = null) {
  const written = { ...visit, rev: (visit.rev ?? 0) + 1 };
  let late = false;
  return transact(["settings", "entries", "photos", "visits"], "readwrite", (stores, give, deal) => {
    stores.visits.get(visit.sitting).onsuccess = (event) => {
      if (event.target.result && event.target.result.rev !== (visit.rev ?? 0)) {
        late = true;
        deal.abort();
        return;
      }
      stores.visits.put(written);
      stores.settings.get("last_seq").onsuccess = (found) => {
        let seq = found.target.result ?? 0;
        for (const entry of said) {
          stores.entries.put({ ...entry, seq: ++seq });
        }
        if (photo) stores.photos.put({ ...photo, after_seq: seq });
        stores.settings.put(seq, "last_seq");
        give(written);
      };
    };
  }).catch((error) => {
    throw late ? new ChangedElsewhere("This sitting was changed in another window.") : error;
  });
}

/** Visits brought up to date from home, without a word to send; older ones than read are left. */
export function renew(renewed, gone = []) {
  return transact(["visits"], "readwrite", ({ visits: kept }) => {
    for (const sitting of gone) kept.delete(sitting);
    for (const visit of renewed) {
      kept.get(visit.sitting).onsuccess = (event) => {
        const held = event.target.result;
        if (!held || held.rev === (visit.rev ?? 0)) kept.put({ ...visit, rev: (visit.rev ?? 0) + 1 });
      };
    }
  });
}

/** What home answered, in one go: `gone` leaves the queue, `told` waits for a person, and the
    visits learn which versions home holds now: `learn(visit)` brings the same where nothing is new. */
export function answered(gone, told, learn) {
  return transact(["entries", "told", "visits"], "readwrite", (stores) => {
    for (const seq of gone) stores.entries.delete(seq);
    for (const row of told) stores.told.put(row);
    stores.visits.getAll().onsuccess = (event) => {
      for (const visit of event.target.result) {
        const known = learn(visit);
        if (known !== visit) stores.visits.put({ ...known, rev: visit.rev + 1 });
      }
    };
  });
}

/** A photograph is at home: it goes, and the pack counts it, in one go. Brings the pack as it is now. */
export function photoAtHome(photo) {
  return transact(["photos", "settings"], "readwrite", ({ photos: kept, settings }, give) => {
    kept.delete(photo.key);
    settings.get("pack").onsuccess = (event) => {
      const pack = event.target.result;
      const sitting = pack?.visit.sittings.find((each) => each.pk === photo.sitting);
      if (sitting) {
        sitting.photos[photo.piece] = (sitting.photos[photo.piece] ?? 0) + 1;
        settings.put(pack, "pack");
      }
      give(pack);
    };
  });
}

export function put(name, row) {
  return transact([name], "readwrite", (stores) => {
    stores[name].put(row);
  });
}

export function remove(name, keys) {
  return transact([name], "readwrite", (stores) => {
    for (const key of keys) stores[name].delete(key);
  });
}

/** Everything this tablet holds is gone afterwards: families, answers, photographs. */
export async function wipe() {
  const db = await open();
  wiped = true;
  db.close();
  await new Promise((resolve, reject) => {
    const asked = indexedDB.deleteDatabase(NAME);
    asked.onsuccess = resolve;
    asked.onerror = () => reject(asked.error);
  });
}
