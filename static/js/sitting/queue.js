/* Takes what was said on this tablet home: in order, each with its own key, as often as it needs.
   The tablet's engine has no background sync, so it is tried when the page opens, comes back into
   view or finds the network, by the clock and by a button. An entry leaves the tablet only when home
   has answered for it; a refused one is shown to a person and never holds up the rest. */
import * as store from "./store.js";

const BATCH = 50;
const CHUNK_BYTES = 262_144; // a minute is enough for one on a poor link
const TICK_MS = 30_000;
const LONGEST_WAIT_MS = 300_000;
const ANSWER_WITHIN_MS = 60_000;
const UNREADABLE = [400, 413, 422];

export const DAY_MS = 86_400_000;
export const WARN_AFTER_DAYS = 3;

/** Milliseconds before the next try after so many failures; `chance` from 0 to 1. */
export function pause(failures, chance) {
  return Math.min(LONGEST_WAIT_MS, 1000 * 2 ** failures) * (0.5 + chance / 2);
}

const cookie = (name) =>
  document.cookie.split("; ").find((each) => each.startsWith(`${name}=`))?.slice(name.length + 1) ?? "";

class LoggedOut extends Error {
  name = "LoggedOut";
}
class Away extends Error {} // no answer, or one that says nothing: the same again later
class Refusal extends Error {
  constructor(status, answer) {
    super(answer.why || `The studio answered ${status}.`);
    this.status = status;
    this.answer = answer;
  }
}

/** The JSON of an answer. Throws LoggedOut, Away or Refusal. */
export async function ask(url, { method = "GET", body, json, again = true } = {}) {
  const stop = new AbortController();
  const clock = setTimeout(() => stop.abort(), ANSWER_WITHIN_MS);
  const headers = { Accept: "application/json" };
  if (method !== "GET") headers["X-CSRFToken"] = cookie("csrftoken");
  if (json) headers["Content-Type"] = "application/json";
  try {
    const response = await fetch(url, {
      method,
      headers,
      body: json ? JSON.stringify(json) : body,
      credentials: "same-origin",
      cache: "no-store",
      signal: stop.signal,
    });
    if (response.status === 401) throw new LoggedOut();
    const answer = await response.json().catch(() => null);
    if (response.ok && answer) return answer;
    // The token changes at log-in: the pack brings the new one.
    if (response.status === 403 && method !== "GET" && again) {
      await ask("/tablet/pack/");
      return ask(url, { method, body, json, again: false });
    }
    const isAnswer = answer && response.status >= 400 && response.status < 500;
    if (isAnswer && ![408, 425, 429].includes(response.status)) throw new Refusal(response.status, answer);
    throw new Away();
  } catch (trouble) {
    if (trouble instanceof LoggedOut || trouble instanceof Refusal) throw trouble;
    throw new Away();
  } finally {
    clearTimeout(clock);
  }
}

/** `unit()`: whose pack this is, and so whose answers go home; `learn(visit, entry, answer)` tells the
    visits what home said, `packed(pack)` what the pack became by it; `changed()` follows every step. */
export class Queue {
  constructor({ unit, learn, packed, changed }) {
    this.unit = unit;
    this.packed = packed;
    this.learn = learn;
    this.changed = changed;
    this.answers = 0; // how often home answered, for whoever must not be overtaken
    this.failures = 0;
    this.nextAt = 0;
    this.busy = false;
    this.loggedOut = false;
    this.why = "";
  }

  start() {
    addEventListener("online", () => this.send({ now: true }));
    document.addEventListener("visibilitychange", () => {
      if (document.visibilityState === "visible") this.send({ now: true });
    });
    setInterval(() => this.send(), TICK_MS);
    return this.send({ now: true });
  }

  /** Sends all there is, unless it is being done already. Never throws: the state says how it went. */
  async send({ now = false } = {}) {
    if (this.busy) {
      this.more = true;
      return;
    }
    if (!now && (Date.now() < this.nextAt || this.loggedOut)) return;
    this.busy = true;
    this.changed();
    try {
      // Two windows of one tablet must not send the same photograph side by side.
      if (navigator.locks) {
        await navigator.locks.request("caststead-queue", { ifAvailable: true }, (lock) => lock && this.#all());
      } else await this.#all();
      this.#settle(null);
    } catch (trouble) {
      this.#settle(trouble);
    }
    this.busy = false;
    this.changed();
    if (this.more && !this.failures) {
      this.more = false;
      await this.send({ now: true });
    }
  }

  #settle(trouble) {
    this.loggedOut = trouble instanceof LoggedOut;
    this.failures = trouble ? this.failures + 1 : 0;
    this.why = trouble instanceof Refusal ? trouble.message : "";
    if (trouble && !(trouble instanceof LoggedOut || trouble instanceof Away || trouble instanceof Refusal)) {
      this.why = "The tablet’s own store could not be read. Close this page and open it again.";
    }
    const wait = pause(this.failures, Math.random());
    this.nextAt = trouble ? Date.now() + wait : 0;
    clearTimeout(this.retry);
    if (trouble) this.retry = setTimeout(() => this.send(), wait + 1);
  }

  async #all() {
    const device = await store.device();
    await this.#entries(device);
    await this.#photos(device);
  }

  /** What waits of this studio: another's is not touched, and holds nothing up. */
  async #ours(rows) {
    const unit = this.unit();
    return (await rows).filter((row) => row.unit === undefined || row.unit === unit);
  }

  async #entries(device) {
    let size = BATCH;
    for (;;) {
      const batch = (await this.#ours(store.entries())).slice(0, size);
      if (!batch.length) return;
      let answers;
      try {
        answers = await this.#post(device, batch);
      } catch (trouble) {
        if (!(trouble instanceof Refusal) || !UNREADABLE.includes(trouble.status)) throw trouble;
        // Home cannot read this batch: smaller ones find the entry that is to blame.
        if (batch.length === 1) answers = [{ key: batch[0].key, state: "refused", sentence: trouble.message, resolve: null }];
        size = Math.ceil(batch.length / 2);
      }
      if (answers) await this.#take(batch, answers);
      this.changed();
    }
  }

  async #post(device, batch) {
    const entries = batch.map(({ key, seq, kind, sitting, facts, seen, said_at, tapped_by }) => ({ key, seq, kind, sitting, facts, seen, said_at, tapped_by }));
    const sent_at = new Date().toISOString();
    const { answers } = await ask("/tablet/entries/", { method: "POST", json: { device, unit: batch[0].unit, sent_at, entries } });
    if (!Array.isArray(answers)) throw new Away();
    return answers;
  }

  async #take(batch, answers) {
    const byKey = new Map(answers.map((answer) => [answer.key, answer]));
    const done = batch.filter((entry) => byKey.has(entry.key));
    if (!done.length) throw new Away();
    const told = done
      .filter((entry) => ["refused", "conflict"].includes(byKey.get(entry.key).state))
      .map((entry) => ({ ...entry, ...byKey.get(entry.key), told_at: Date.now() }));
    this.answers += 1;
    await store.answered(
      done.map((entry) => entry.seq),
      told,
      (visit) => done.reduce((known, entry) => this.learn(known, entry, byKey.get(entry.key)), visit),
    );
  }

  async #photos(device) {
    for (const photo of await this.#ours(store.photos())) {
      const waiting = await this.#ours(store.entries());
      if (photo.state === "refused" || waiting.some((entry) => entry.seq <= photo.after_seq)) continue;
      try {
        await this.#photo(device, photo);
        this.answers += 1;
        this.packed(await store.photoAtHome(photo));
      } catch (trouble) {
        if (!(trouble instanceof Refusal) || trouble.status === 403) throw trouble;
        await store.put("photos", { ...photo, state: "refused", sentence: trouble.message });
      }
      this.changed();
    }
  }

  async #photo(device, photo) {
    const url = `/tablet/photos/${photo.key}/`;
    let { have, state } = await ask(url);
    let stuck = 0;
    while (state !== "kept") {
      const form = new FormData();
      const sent_at = new Date().toISOString();
      const { size, sha256, job, piece, kind, said_at, unit = "", tapped_by = "" } = photo;
      const facts = { device, unit, tapped_by, total_bytes: size, sha256, offset: have, job, piece: piece ?? "", kind, said_at, sent_at };
      for (const [name, value] of Object.entries(facts)) form.append(name, value);
      form.append("chunk", new Blob([photo.bytes.slice(have, have + CHUNK_BYTES)]), "chunk");
      let answer;
      try {
        answer = await ask(url, { method: "POST", body: form });
      } catch (trouble) {
        if (trouble instanceof Refusal && trouble.answer.state === "damaged") answer = trouble.answer;
        else throw trouble;
      }
      stuck = answer.have > have ? 0 : stuck + 1;
      if (stuck > 2 && answer.state !== "kept") throw new Away();
      ({ have, state } = answer);
    }
  }
}
