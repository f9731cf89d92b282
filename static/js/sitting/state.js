/* What the window knows: the pack, the visits as the store has them, what waits to be sent or chosen.
   Everything here is read out of the store; nothing is written. */
import * as flow from "./flow.js";
import * as store from "./store.js";
import * as words from "./words.js";

export const state = {
  held: { pack: null, pack_at: null, skew_ms: 0, storage: null },
  visits: new Map(),
  sitting: null, // the open sitting's pk
  unsent: { words: "", oldest: null },
  elsewhere: null, // {words, name} of what was said here for another studio
  photos: [],
  told: [],
  draft: {},
  loading: false,
  saving: false, // from a tap until the screen shows what it led to
  busyPhoto: false,
  wiping: false,
  trouble: "",
  refused: "",
};

export const zone = () => state.held.pack?.unit.time_zone ?? "Europe/London";

/** Whose a tap of this moment is: the studio's and the person's of the pack. The studio never takes
    the tablet's word for the person, who may be another by the time it is sent. */
export function whose() {
  const { unit, me } = state.held.pack;
  return { unit: unit.pk, unit_name: unit.name, tapped_by: me.pk };
}

/** Whether something kept here is of the studio whose pack this is: another's waits for its own log-in. */
export const isOurs = (row) => row.unit === undefined || row.unit === state.held.pack?.unit.pk;

let writes = 0;

/** The visit as it was just written to the store. */
export function hold(visit) {
  state.visits.set(visit.sitting, visit);
  writes += 1;
}

/** Reads the counts and the visits anew; two readings never overtake one another, nor a write. */
let reading = Promise.resolve();
export function refresh() {
  reading = reading.catch(() => {}).then(async () => {
    const before = writes;
    const [entries, photos, told, visits] = await Promise.all([store.entries(), store.photos(), store.told(), store.visits()]);
    const [ours, theirs] = [isOurs, (row) => !isOurs(row)].map((which) => [entries.filter(which), photos.filter(which)]);
    const times = ours.flat().map((each) => Date.parse(each.said_at));
    state.unsent = { words: countOf(...ours), oldest: times.length ? Math.min(...times) : null };
    const [foreign] = theirs.flat();
    state.elsewhere = foreign ? { words: countOf(...theirs), name: foreign.unit_name } : null;
    state.photos = ours[1];
    state.told = told.filter(isOurs);
    if (writes === before) state.visits = new Map(visits.filter(isOurs).map((visit) => [visit.sitting, visit]));
  });
  return reading;
}

function countOf(entries, photos) {
  const going = photos.filter((photo) => photo.state !== "refused");
  const parts = [entries.length && words.count(entries.length, "answer"), going.length && words.count(going.length, "photograph")];
  return parts.filter(Boolean).join(" and ");
}

/** What the flow needs to know about a sitting, out of the pack. */
export function contextOf(pk) {
  const { pack } = state.held;
  const sitting = pack?.visit.sittings.find((each) => each.pk === pk);
  if (!sitting) return null;
  const order = pack.money?.orders[sitting.job] ?? null;
  const others = [...state.visits.values()].filter((visit) => visit.sitting !== pk).flatMap((visit) => visit.limbs);
  return {
    sitting,
    visit_words: pack.visit,
    money: pack.money,
    order,
    list: order && pack.money.lists[order.list],
    percent: pack.unit.deposit_percent,
    fixed_minor: pack.unit.deposit_fixed_minor ?? null,
    currency: pack.unit.currency,
    clay_rest_hours: pack.unit.clay_rest_hours,
    sizes: pack.sizes,
    trays: [...pack.visit.trays_used, ...others.filter((limb) => limb.outcome === "taken").map((limb) => limb.tray)],
  };
}

/** What came back from home and waits for a person, out of the pack and of answers since. */
export function unsettled() {
  const ofPack = (state.held.pack?.visit.sittings ?? []).flatMap((sitting) =>
    (sitting.unsettled ?? []).map((each) => ({ ...each, sitting: sitting.pk, resolve: each.resolve ?? each.key, facts: each.mine, version: each.theirs?.version ?? null })),
  );
  const here = state.told.filter((row) => !ofPack.some((each) => each.key === row.key));
  return [...ofPack, ...here].map((each) => ({ ...each, ...wordsOf(each) }));
}

function wordsOf(each) {
  const context = contextOf(each.sitting);
  if (!context || each.kind !== "impression") return {};
  const limb = context.sitting.impressions.find((one) => one.pk === each.facts?.impression);
  if (!limb) return {};
  const { outcome, tray, length_mm } = each.facts;
  const mine = [context.visit_words.outcomes[outcome], tray && outcome === "taken" && `tray ${tray}`, length_mm && `${length_mm} mm`];
  return { subjectWords: flow.nameOf(context, limb), mine_words: each.mine_words || mine.filter(Boolean).join(", ") };
}
