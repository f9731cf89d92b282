/* The first screen: the sittings on this tablet, what it holds and since when, and what is on its way. */
import { answer, button, el, link, refusal, status } from "./dom.js";
import { DAY_MS, WARN_AFTER_DAYS } from "./queue.js";
import * as words from "./words.js";

/** {ask, lead, body} of the list. ui: see app.js. */
export function list(ui) {
  const { held } = ui;
  if (!held.pack) return nothingYet(ui);
  const { sittings } = held.pack.visit;
  const zone = held.pack.unit.time_zone;
  const today = words.localDay(Date.now(), zone);
  const groups = [
    ["Not finished", sittings.filter((each) => each.day < today && each.state === "planned")],
    ["Today", sittings.filter((each) => each.day === today)],
    ["The next days", sittings.filter((each) => each.day > today)],
  ];
  const last = sittings.at(-1);
  return {
    ask: "Sittings",
    lead: `Taken along ${words.when(held.pack_at, zone)}: ${words.count(sittings.length, "sitting")}${last && last.day > today ? `, until ${words.day(last.day)}` : ""}.`,
    body: [
      waiting(ui),
      ui.unsettled.map((each) => toSettle(ui, each)),
      ui.refusedPhotos.map((each) => toDrop(ui, each)),
      old(held, zone, today),
      !sittings.length && el("div", { class: "empty" }, el("p", { class: "empty__title" }, "No sitting in the next seven days"), el("p", { class: "empty__words" }, "What is booked in the diary stands here once it is taken along.")),
      groups.map(([heading, some]) => some.length > 0 && el("section", { class: "stack", "aria-label": heading }, el("h2", {}, heading), el("div", { class: "answers" }, some.map((each) => sittingButton(ui, each, zone))))),
      keeping(ui),
    ],
  };
}

function nothingYet(ui) {
  return {
    ask: ui.loading ? "Taking the sittings along…" : "Nothing is on this tablet yet",
    lead: "Families, addresses, prices and choices of the next seven days are kept here, so that a sitting needs no signal.",
    body: [waiting(ui), !ui.loading && el("div", { class: "acts" }, button("Take along now", ui.takeAlong, { variant: "main", id: "take-along" }), ui.logIn && link("Log in", ui.logIn)), keeping(ui)],
  };
}

function sittingButton(ui, sitting, zone) {
  const visit = ui.visits.get(sitting.pk);
  const done = visit ? visit.finished : sitting.state === "done";
  const who = sitting.children.map((child) => `${child.first_name}, ${child.age}: ${sitting.impressions.filter((each) => each.child === child.pk).length}`).join("; ");
  const began = visit && !done && visit.limbs.some((limb) => limb.outcome !== "planned");
  const today = words.localDay(Date.now(), zone);
  const at = `${sitting.day === today ? "" : `${words.day(sitting.day)}, `}${words.clock(sitting.starts_at, zone)}`;
  const where = sitting.place === "home" ? [sitting.family.address.split("\n").join(", "), sitting.family.postcode].join(", ") : [sitting.place_label, sitting.place_words].filter(Boolean).join(": ");
  return answer(
    el("span", { class: "answer__line" }, el("span", {}, `${at} · ${sitting.family.name}`), done ? status("done", "done") : sitting.day < today ? status("late", "not finished") : began ? status("info", "begun") : null),
    el("span", {}, `${who} ${sitting.impressions.length === 1 ? "limb" : "limbs"}`, el("br"), where),
    () => ui.openSitting(sitting.pk),
    { id: `sitting-${sitting.pk}` },
  );
}

/** "3 not sent yet", and what to do about it. */
function waiting(ui) {
  const { queue, unsent } = ui;
  const days = unsent.oldest ? Math.floor((Date.now() - unsent.oldest) / DAY_MS) : 0;
  const lines = [
    queue.loggedOut && el("div", { class: "refused", role: "alert" }, el("p", { class: "refused__title" }, "Log in again to send"), el("p", {}, "You were logged out while away. Nothing on this tablet is lost."), el("div", { class: "acts" }, link("Log in again", ui.logIn, "main"))),
    queue.why && refusal(queue.why),
    ui.trouble && refusal(ui.trouble),
  ];
  if (ui.elsewhere) lines.push(status("info", `${words.capital(ui.elsewhere.words)} of ${ui.elsewhere.name} ${/^1 \w+$/.test(ui.elsewhere.words) ? "waits" : "wait"} on this tablet, untouched: log in there to send.`, true));
  if (!unsent.words) return lines;
  return [
    ...lines,
    el(
      "div",
      { class: "stack stack--tight", id: "unsent" },
      status(days >= WARN_AFTER_DAYS ? "late" : "info", `${words.capital(unsent.words)} not sent yet.${days >= WARN_AFTER_DAYS ? ` The oldest has waited ${days} days: find a signal and send, or hand over the file. The browser may empty its storage after seven days without a visit.` : " All of it is safe on this tablet."}`, true),
      el("div", { class: "acts" }, button(queue.busy ? "Sending…" : "Send now", ui.send, { id: "send", variant: "main", "aria-disabled": queue.busy ? "true" : null }), button("Hand over as a file", ui.handOver, { id: "hand-over" })),
    ),
  ];
}

const KINDS = { arrive: "Who was there", consent: "Consent", finish: "The end of the sitting", reopen: "Opening it again", look: "The look", deposit: "The deposit", deposit_undo: "The deposit taken back" };

/** A refusal or a conflict: what happened, both versions, and a plain choice. */
function toSettle(ui, each) {
  const about = each.subjectWords || KINDS[each.kind] || "An answer";
  const choices = each.resolve
    ? [
        button(each.state === "conflict" ? `Mine: ${each.mine_words || "as on this tablet"}` : "Try it again", () => ui.settle(each, "mine"), { id: `mine-${each.key}`, variant: "main" }),
        button(each.state === "conflict" ? `Theirs: ${each.theirs_words || "as at home"}` : "Put it aside", () => ui.settle(each, "theirs"), { id: `theirs-${each.key}` }),
      ]
    : [button("I have seen this", () => ui.dismiss(each), { id: `seen-${each.key}` })];
  return el("div", { class: "refused", role: "group", "aria-label": about }, el("p", { class: "refused__title" }, each.state === "conflict" ? `${about}: two answers` : `${about}: not done`), el("p", {}, each.sentence), each.can_choose === false && el("p", { class: "quiet-words" }, "The owner chooses."), el("div", { class: "acts" }, each.can_choose === false ? [] : choices));
}

function toDrop(ui, photo) {
  return el("div", { class: "refused", role: "group", "aria-label": "A photograph" }, el("p", { class: "refused__title" }, "A photograph was not taken in"), el("p", {}, photo.sentence), el("div", { class: "acts" }, button("Send it again", () => ui.againPhoto(photo), { variant: "main", id: `again-${photo.key}` }), button("Drop it", () => ui.dropPhoto(photo), { variant: "danger", id: `drop-${photo.key}` })));
}

function old(held, zone, today) {
  const from = words.localDay(held.pack_at, zone);
  return from !== today && status("late", `This was taken along on ${words.day(from)}: the diary may have changed since.`, true);
}

function keeping(ui) {
  const { storage } = ui.held;
  const unsent = [ui.unsent.words, ui.elsewhere && `${ui.elsewhere.words} of ${ui.elsewhere.name}`].filter(Boolean).join(" and ");
  const kept = {
    promised: ["done", "The browser has promised to keep what is on this tablet."],
    asked: ["plain", "The browser has not promised to keep this for long. Put Caststead on the Home Screen, and open it once a week."],
    unknown: ["plain", "This browser does not say how long it keeps things. Open this page once a week."],
  }[storage ?? "unknown"];
  return el(
    "section",
    { class: "stack held", "aria-label": "This tablet" },
    el("h2", {}, "This tablet"),
    status(...kept),
    el("div", { class: "acts" }, ui.held.pack && button(ui.loading ? "Taking along…" : "Take along again", ui.takeAlong, { id: "take-along", "aria-disabled": ui.loading ? "true" : null }), link("To the desk", ui.desk), button("Log out and wipe", ui.askWipe, { variant: "danger", id: "wipe" })),
    ui.wiping &&
      el(
        "div",
        { class: "refused", role: "alert", tabindex: "-1", id: "wiping" },
        el("p", { class: "refused__title" }, unsent ? `${words.capital(unsent)} would be lost` : "Wipe this tablet?"),
        el("p", {}, unsent ? "They are nowhere but on this tablet. Send them first, or hand over the file." : "Families, addresses and prices go from this tablet; everything said is at home already."),
        el("div", { class: "acts" }, button(unsent ? "Wipe it all the same" : "Log out and wipe", ui.wipe, { variant: "danger", id: "wipe-now" }), button("Keep it", ui.keepIt, { id: "keep-it" })),
      ),
  );
}
