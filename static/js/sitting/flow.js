/* The way through a sitting, pure: no clock, no store, no page. A visit goes in with a tap; the visit
   as it stands afterwards comes out, with what is to be sent home and what to say aloud.
   tests/reference/sitting_flow.json holds the vectors; the server runs those it decides as well.

   context {sitting, visit_words, money, order, list, trays}: of the pack, see `contextOf` in app.js.
   visit {sitting, at, who, ready, asked, limbs, look, deposit, finished, finished_at, began_at, undo, rev}. */
const MOST_UNDO = 60;
export const LENGTH_MM = [20, 400];
const NOTE_LETTERS = 200;
const WORDS = { taken: "taken", repeat: "to be tried again", not_today: "not today", planned: "open again" };

// --- beginning, and being brought up to date from home ---------------------------------------------

/** A visit that nothing was said about yet, but for what home knows. */
export function begin(context) {
  const { sitting, order } = context;
  const visit = {
    sitting: sitting.pk,
    at: "who",
    who: "",
    ready: false,
    asked: {},
    limbs: sitting.impressions.map(limbOf),
    look: null,
    look_version: order ? order.version : null,
    deposit: null,
    finished: sitting.state === "done" ? "home" : null,
    finished_at: null,
    began_at: null,
    undo: [],
    rev: 0,
  };
  for (const purpose of purposes(context)) visit.asked[purpose] = sitting.consents[purpose] ? true : null;
  return { ...visit, at: visit.finished ? "over" : "who" };
}

/** The visit with what home says now; `unsent` are this tablet's entries about it, which stand. */
export function renewed(visit, context, unsent) {
  const { sitting, order } = context;
  const mine = new Set(unsent.filter((each) => each.kind === "impression").map((each) => each.facts.impression));
  const held = new Map(visit.limbs.map((limb) => [limb.pk, limb]));
  const kinds = new Set(unsent.map((each) => each.kind));
  const next = {
    ...visit,
    limbs: sitting.impressions.map((each) =>
      mine.has(each.pk) && held.has(each.pk) ? { ...held.get(each.pk), version: each.version } : limbOf(each),
    ),
    asked: { ...visit.asked },
    look_version: order ? order.version : null,
  };
  if (!kinds.has("consent")) {
    for (const purpose of purposes(context)) {
      if (sitting.consents[purpose]) next.asked[purpose] = true;
      else if (next.asked[purpose]) next.asked[purpose] = null;
    }
  }
  if (!kinds.has("finish") && !kinds.has("reopen")) {
    next.finished = sitting.state === "done" ? (visit.finished ?? "home") : null;
    if (next.finished) next.at = "over";
    else if (visit.finished) next.at = "summary";
  }
  return way(next, context).includes(next.at) ? next : { ...next, at: after(next, context, "who") };
}

/** What home answered to an entry of this visit: the version it holds now, theirs where that stands. */
export function answered(visit, entry, answer) {
  if (answer.version === null || answer.version === undefined) return visit;
  if (entry.kind === "look") return { ...visit, look_version: answer.version };
  if (entry.kind !== "impression") return visit;
  return withLimb(visit, entry.facts.impression, (limb) => ({ ...limb, version: answer.version }));
}

/** A limb as a person chose it to stand, of a conflict: `facts` of this tablet or of the other. */
export function chosen(visit, pk, facts, version) {
  const { outcome, tries, marks, length_mm, note, tray } = facts;
  return withLimb(visit, pk, (limb) => ({ ...limb, outcome, tries, marks, length_mm, note, tray, version }));
}

// --- the way ---------------------------------------------------------------------------------------

export const purposes = (context) => Object.keys(context.visit_words.wordings);
export const settled = (limb) => limb.outcome === "taken" || limb.outcome === "not_today";
export const limbAt = (visit) => visit.limbs.find((limb) => `limb:${limb.pk}` === visit.at);

/** Every question of this sitting in its order. */
export function way(visit, context) {
  if (visit.finished) return ["over"];
  const { order } = context;
  return [
    "who",
    ...purposes(context).map((purpose) => `consent:${purpose}`),
    "cautions",
    ...visit.limbs.map((limb) => `limb:${limb.pk}`),
    ...(order && order.can_choose ? ["look"] : []),
    ...(order && (visit.deposit || owing(visit, context) > 0) ? ["deposit"] : []),
    "summary",
  ];
}

/** Whether a question still waits for its answer. */
export function isOpen(visit, step) {
  const [kind, of] = step.split(":");
  if (kind === "who") return !visit.who;
  if (kind === "consent") return visit.asked[of] === null || visit.asked[of] === undefined;
  if (kind === "cautions") return !visit.ready;
  if (kind === "limb") return !settled(visit.limbs.find((limb) => String(limb.pk) === of));
  if (kind === "look") return visit.look === null;
  if (kind === "deposit") return visit.deposit === null;
  return true;
}

/** Where to go from a question that was answered: the next open one; from a limb, first the limbs
    after it, then round to those that were passed over. */
export function after(visit, context, from) {
  const steps = way(visit, context);
  const place = steps.indexOf(from);
  const rest = steps.slice(place + 1);
  if (from.startsWith("limb:")) {
    const limbs = [...rest, ...steps.slice(0, place)].filter((step) => step.startsWith("limb:"));
    const next = limbs.find((step) => isOpen(visit, step));
    if (next) return next;
  }
  return rest.find((step) => isOpen(visit, step)) ?? "summary";
}

/** Where "leave it open" leads: the next open question further on, never back. */
export function past(visit, context, from) {
  const steps = way(visit, context);
  return steps.slice(steps.indexOf(from) + 1).find((step) => isOpen(visit, step)) ?? "summary";
}

// --- money -----------------------------------------------------------------------------------------

/** Minor units: the order with this backing and finish. */
export function total(order, list, backing, finish) {
  const amount = (prices, pk) => prices.find((price) => price.pk === pk)?.amount_minor ?? 0;
  return order.base_minor + amount(list.backings, backing) + amount(list.finishes, finish);
}

/** Minor units: a fixed sum but never more than the total, or so many percent of it, half a penny up. */
export const deposit = (total_minor, percent, fixed_minor = null) =>
  fixed_minor === null ? Math.floor((total_minor * percent + 50) / 100) : Math.min(fixed_minor, total_minor);

/** The look as it stands on this tablet: chosen here, or what home has. */
export function lookOf(visit, context) {
  if (visit.look) return visit.look;
  const { order } = context;
  return { backing: order.backing, finish: order.finish, plate_words: order.plate_words, layout_words: order.layout_words };
}

/** Minor units of the deposit that are not paid yet, with the look that stands here. */
export function owing(visit, context) {
  const { order, list, percent, fixed_minor } = context;
  const look = lookOf(visit, context);
  return Math.max(0, deposit(total(order, list, look.backing, look.finish), percent, fixed_minor) - order.paid_minor);
}

// --- trays -----------------------------------------------------------------------------------------

/** The lowest whole number that no tray carries. `used`: strings. */
export function freeTray(used) {
  const taken = new Set(used);
  let number = 1;
  while (taken.has(String(number))) number += 1;
  return String(number);
}

/** The tray this limb lies in, or would. */
export function trayOf(visit, context, limb) {
  if (limb.tray) return limb.tray;
  const here = visit.limbs.filter((each) => each.outcome === "taken").map((each) => each.tray);
  return freeTray([...context.trays, ...here]);
}

// --- taps ------------------------------------------------------------------------------------------

/** {visit, said, words} of a tap; `said` are the entries' {kind, facts, seen}, the deposit's with a key.
    tap: {do, …}. Throws a RangeError with a sentence for what cannot be said. */
export function tap(visit, context, tapped) {
  const answer = TAPS[tapped.do](visit, context, tapped);
  return { said: [], words: "", ...answer };
}

const TAPS = {
  go: (visit, context, { to }) => ({ visit: { ...visit, at: to } }),

  skip: (visit, context) => ({ visit: { ...visit, at: past(visit, context, visit.at) }, words: "Left open." }),

  who: (visit, context, { who }) =>
    step(visit, context, { who: who.trim() }, [arrive(who.trim(), visit.ready, context)], `${who.trim()} is here.`, who.trim()),

  consent: (visit, context, { purpose, yes }) => {
    const asked = { ...visit.asked, [purpose]: yes };
    return step(visit, context, { asked }, [consent(context, purpose, yes, visit.who)], yes ? "Yes, written down." : "No, written down.", yes ? "yes" : "no");
  },

  ready: (visit, context, { at }) =>
    step(visit, context, { ready: true, began_at: visit.began_at ?? at }, [arrive(visit.who, true, context)], "Begin.", "begin"),

  outcome: (visit, context, { pk, outcome }) => {
    const limb = limbOfVisit(visit, pk);
    const judged = outcome === "taken" ? { marks: goodUnlessSaid(limb, context), tray: trayOf(visit, context, limb) } : {};
    const tries = limb.tries + (outcome === "repeat" ? 1 : 0);
    const words = `${nameOf(context, limb)} ${WORDS[outcome]}.`;
    const done = logged(visit, { ...limb, ...judged, outcome, tries }, words);
    if (outcome !== "repeat") return { ...done, visit: { ...done.visit, at: after(done.visit, context, visit.at) } };
    // The marks were of the try that failed; the next one is judged afresh.
    return { ...done, visit: withLimb(done.visit, pk, (each) => ({ ...each, marks: unjudged() })) };
  },

  mark: (visit, context, { pk, mark }) => {
    const limb = limbOfVisit(visit, pk);
    const good = limb.marks[mark] === false;
    return logged(visit, { ...limb, marks: { ...limb.marks, [mark]: good } }, good ? "Marked good." : "Marked not good.");
  },

  length: (visit, context, { pk, mm }) => {
    const limb = limbOfVisit(visit, pk);
    if (mm !== null && !(Number.isInteger(mm) && mm >= LENGTH_MM[0] && mm <= LENGTH_MM[1])) {
      throw new RangeError(`A length is a whole number of millimetres from ${LENGTH_MM[0]} to ${LENGTH_MM[1]}. Nothing was changed.`);
    }
    return logged(visit, { ...limb, length_mm: mm }, mm === null ? "No length." : `${mm} millimetres.`);
  },

  note: (visit, context, { pk, word }) => {
    const limb = limbOfVisit(visit, pk);
    const words = limb.note ? limb.note.split("; ") : [];
    const without = words.filter((each) => each !== word);
    const note = (without.length < words.length ? without : [...words, word]).join("; ");
    if (note.length > NOTE_LETTERS) throw new RangeError("The note is full. Take a word off it first.");
    return logged(visit, { ...limb, note }, note ? `Note: ${note}.` : "No note.");
  },

  tray: (visit, context, { pk, by }) => {
    const limb = limbOfVisit(visit, pk);
    const tray = String(Math.max(1, (parseInt(trayOf(visit, context, limb), 10) || 1) + by));
    return logged(visit, { ...limb, tray }, `Tray ${tray}.`);
  },

  look: (visit, context, { look }) => {
    const said = [{ kind: "look", facts: look, seen: visit.look_version }];
    return step(visit, context, { look }, said, "The look is written down.", "the look");
  },

  deposit: (visit, context, { amount_minor, method, key }) => {
    if (!Number.isInteger(amount_minor) || amount_minor < 1) {
      throw new RangeError("A deposit is more than nothing. Type an amount, or say that none was taken.");
    }
    const said = [{ kind: "deposit", facts: { amount_minor, method }, seen: null, key }];
    return step(visit, context, { deposit: { amount_minor, method, key } }, said, "The deposit is written down.", "the deposit");
  },

  no_deposit: (visit, context) => step(visit, context, { deposit: { amount_minor: 0, method: "", key: "" } }, [], "No deposit today.", "no deposit"),

  finish: (visit, context, { put_off, at }) => {
    if (visit.limbs.some((limb) => !settled(limb))) throw new RangeError("Say “not today” where nothing came of it; then the sitting can be finished.");
    if (!visit.limbs.some((limb) => limb.outcome === "taken")) throw new RangeError("Nothing was taken: move the sitting to another day from the desk.");
    const next = { ...visit, finished: put_off, finished_at: at, at: "over" };
    return { visit: remembered(next, visit, "finished"), said: [{ kind: "finish", facts: { put_off }, seen: null }], words: "The sitting is finished." };
  },

  // Of a sitting that was finished elsewhere; what this tablet finished is taken back by undo.
  reopen: (visit) => ({ visit: { ...visit, finished: null, at: "summary" }, said: [{ kind: "reopen", facts: {}, seen: null }], words: "Open again." }),

  undo: (visit, context) => undo(visit, context),
};

/** The words on the button that takes the last answer back; empty where there is none. */
export const undoWords = (visit) => visit.undo.at(-1)?.words ?? "";

function undo(visit, context) {
  const last = visit.undo.at(-1);
  if (!last) return { visit };
  const { before } = last;
  const back = { ...visit, ...before, at: last.at, undo: visit.undo.slice(0, -1) };
  const said = [];
  if (last.limb) {
    const former = { ...last.limb, version: limbOfVisit(visit, last.limb.pk).version };
    return {
      visit: withLimb(back, former.pk, () => former),
      said: [impression(former)],
      words: `Taken back: ${last.words}.`,
    };
  }
  if ("who" in before || "ready" in before) said.push(arrive(back.who || visit.who, back.ready, context));
  if ("asked" in before) {
    for (const purpose of Object.keys(visit.asked)) {
      if (visit.asked[purpose] === before.asked[purpose]) continue;
      said.push(consent(context, purpose, before.asked[purpose] === true, visit.who));
    }
  }
  if ("look" in before) said.push({ kind: "look", facts: lookOf(back, context), seen: visit.look_version });
  if ("deposit" in before && visit.deposit.key) said.push({ kind: "deposit_undo", facts: { of: visit.deposit.key }, seen: null });
  if ("deposit" in before && before.deposit?.key) throw new RangeError("Take a deposit back before another is taken.");
  if ("finished" in before) said.push({ kind: "reopen", facts: {}, seen: null });
  return { visit: back, said, words: `Taken back: ${last.words}.` };
}

/** An answer to a question that is not a limb: written, remembered for undo, and on to the next. */
function step(visit, context, changed, said, words, undone) {
  const next = remembered({ ...visit, ...changed }, visit, undone, Object.keys(changed));
  return { visit: { ...next, at: after(next, context, visit.at) }, said, words };
}

function remembered(next, visit, words, names = ["finished"]) {
  const before = Object.fromEntries(names.map((name) => [name, visit[name]]));
  return { ...next, undo: [...visit.undo, { at: visit.at, words, before }].slice(-MOST_UNDO) };
}

/** A limb's new state: kept in the visit, said in full, the former one remembered. */
function logged(visit, limb, words) {
  const former = limbOfVisit(visit, limb.pk);
  const undone = { at: visit.at, words: words.replace(/\.$/, ""), before: {}, limb: former };
  const next = withLimb(visit, limb.pk, () => limb);
  return { visit: { ...next, undo: [...visit.undo, undone].slice(-MOST_UNDO) }, said: [impression(limb)], words };
}

function impression(limb) {
  const { pk, outcome, tries, marks, length_mm, note, tray, version } = limb;
  return { kind: "impression", facts: { impression: pk, outcome, tries, marks, length_mm, note, tray }, seen: version };
}

function arrive(who, ready, context) {
  const questions = Object.fromEntries(context.visit_words.cautions.map(({ id }) => [id, ready]));
  return { kind: "arrive", facts: { who, questions }, seen: null };
}

function consent(context, purpose, yes, who) {
  const { version } = context.visit_words.wordings[purpose];
  const given_by = who || context.sitting.family.contact_name;
  return { kind: "consent", facts: { purpose, yes, given_by, wording_version: version }, seen: null };
}

/** The marks that this kind of limb has: good where nothing else was said. */
function goodUnlessSaid(limb, context) {
  const asked = context.visit_words.marks[limb.kind].map(({ id }) => id);
  return Object.fromEntries(Object.entries(limb.marks).map(([id, good]) => [id, asked.includes(id) ? (good ?? true) : good]));
}

const unjudged = () => ({ flat: null, toes: null, depth: null });

function limbOf(each) {
  const { pk, piece, child, limb, limb_label, kind, outcome, tries, marks, length_mm, note, tray, version } = each;
  return { pk, piece, child, limb, limb_label, kind, outcome, tries, marks: { ...unjudged(), ...marks }, length_mm, note, tray, version };
}

export function nameOf(context, limb) {
  const child = context.sitting.children.find((each) => each.pk === limb.child);
  return `${child.first_name}, ${limb.limb_label}`;
}

function limbOfVisit(visit, pk) {
  return visit.limbs.find((limb) => limb.pk === pk);
}

function withLimb(visit, pk, changed) {
  return { ...visit, limbs: visit.limbs.map((limb) => (limb.pk === pk ? changed(limb) : limb)) };
}
