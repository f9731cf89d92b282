"""Somebody who logs random sittings on a tablet, and writes down by herself what she pressed.

Her log knows nothing of the app's: it follows from the buttons alone. A tap counts as acknowledged once
the screen shows it; one that was under way when the tab died counts if the screen shows it afterwards.
"""

import random
from collections.abc import Callable
from dataclasses import asdict, dataclass, field, replace
from typing import Any

from django.urls import reverse

from tests.browser.hands import PATIENCE_S

# What the screen shows, in one look: `shown` is all that a tap can change, as one text.
SCREEN = """() => {
  const question = document.querySelector("#question[data-step]");
  if (!question) return null;
  const words = (id) => document.getElementById(id)?.textContent ?? "";
  const place = document.querySelector(".question__place")?.cloneNode(true);
  place?.querySelector(".sit__clock")?.remove();
  const shown = JSON.stringify([
    question.dataset.step, place?.textContent ?? "", words("undo"), words("tray-value"),
    document.getElementById("length-value")?.value ?? "", document.querySelector("h1").textContent,
    [...document.querySelectorAll("[aria-pressed]")].map((each) => `${each.id} ${each.ariaPressed}`),
  ]);
  return {
    shown, step: question.dataset.step, tray: words("tray-value"),
    there: [...document.querySelectorAll("main [id]")].map((each) => each.id),
    contact: document.getElementById("who-contact")?.firstChild.textContent ?? "",
    photos: document.querySelector(".photo-press .status")?.textContent ?? "",
    notes_open: document.getElementById("notes")?.open ?? false,
  };
}"""
# A press as a thumb's: only what is in sight and under nothing else can be pressed.
PRESS = """(selector) => {
  const there = document.querySelector(selector);
  if (!there) throw new Error(`${selector} is not there`);
  const middle = () => {
    const box = there.getBoundingClientRect();
    return document.elementFromPoint((box.left + box.right) / 2, (box.top + box.bottom) / 2);
  };
  if (!there.contains(middle())) there.scrollIntoView({ block: "center", behavior: "instant" });
  if (!there.contains(middle())) throw new Error(`${selector} lies under ${middle()?.outerHTML.slice(0, 90)}`);
  there.click();
}"""
# One press and what the screen shows once it has moved; null where it never does.
TAP = f"""async ({{ selector, patience_ms }}) => {{
  const screen = {SCREEN}, before = screen().shown, end = Date.now() + patience_ms;
  ({PRESS})(selector);
  for (;;) {{
    const now = screen();
    if (now && now.shown !== before) return now;
    if (Date.now() > end) return null;
    await new Promise((done) => setTimeout(done, 4));
  }}
}}"""
# What is expected of each limb's length, in the pack that she took along.
EXPECTED = """() => new Promise((resolve, reject) => {
  const asked = indexedDB.open("caststead-tablet");
  asked.onerror = reject;
  asked.onsuccess = () => {
    const got = asked.result.transaction("settings").objectStore("settings").get("pack");
    got.onsuccess = () => {
      asked.result.close();
      resolve(Object.fromEntries(Object.entries(got.result.sizes).map(([pk, size]) => [pk, Math.round(size.mean_mm)])));
    };
  };
})"""
READY = "() => navigator.serviceWorker.controller !== null"
HELD = "() => document.querySelectorAll('.answer[id^=sitting-]').length"
# Presses "Send now" until all is home, or so many times; how often it was, and whether it is.
SEND = """async ({ presses, patience_ms }) => {
  const end = Date.now() + patience_ms;
  const home = () => document.querySelector("[data-step=list]") && !document.getElementById("unsent");
  let pressed = 0;
  for (;;) {
    const send = document.getElementById("send"), idle = send?.ariaDisabled !== "true";
    if (idle && home()) return { home: true, pressed };
    if (idle && pressed === presses || Date.now() > end) return { home: false, pressed };
    if (idle && send) { send.click(); pressed += 1; }
    await new Promise((done) => setTimeout(done, 4));
  }
}"""
NOTES = ("Wriggled", "Asleep", "Toes curled")
UNJUDGED = {"flat": None, "toes": None, "depth": None}
MOST_PRESSES = 2000
PRESSES_A_LIFE = 15  # of “Send now”, at a guess


class Lost(AssertionError):
    """The screen had shown an answer, and after the tab's death it shows another."""


@dataclass(frozen=True)
class Print:
    """A limb as she believes it to stand."""

    pk: int
    piece: int
    kind: str
    outcome: str = "planned"
    tries: int = 0
    marks: dict[str, Any] = field(default_factory=lambda: dict(UNJUDGED))
    length_mm: int | None = None
    note: str = ""
    tray: str = ""

    @property
    def facts(self):
        facts = asdict(self)
        del facts["piece"], facts["kind"]
        return {"impression": facts.pop("pk"), **facts}


@dataclass(frozen=True)
class Undo:
    """What Undo says and how her own memory goes back; `said` is None where nothing is sent."""

    said: dict[str, Any] | None
    back: Callable[[], None] = lambda: None

    @property
    def kind(self):
        return self.said["kind"] if self.said else ""


class Sitter:
    """`hand` on a tablet; `seed` decides all; `kills`: of how many taps the tab dies.

    `log` holds what was acknowledged, in order; `photos` the piece of every photograph kept.
    """

    def __init__(self, hand, *, seed, kills=0.0, picture=None):
        self.chance = random.Random(seed)  # noqa: S311 - to be repeated
        self.hand, self.kills, self.picture = hand, kills, picture
        self.log, self.photos = [], []
        self.taps = self.deaths = self.deaths_under_way = self.presses = 0
        self.prints, self.undo = {}, []
        self.sitting, self.who = 0, ""
        self.screen, self.expected = {}, {}

    # --- the tablet ---------------------------------------------------------------------------------------------------

    def open(self):
        self.hand.open(reverse("studio:tablet"))
        self.screen = self.hand.until(SCREEN)

    def take_along(self, sittings):
        """Opened with a signal until it would open without one."""
        self.open()
        self.hand.until(f"many => ({HELD})() >= many", sittings)
        self.hand.ask("() => navigator.serviceWorker.ready.then(() => true)")
        self.hand.until(READY)
        self.screen = self.hand.until(SCREEN)

    def until_home(self):
        """Press “Send now” until nothing is left to send; now and then the tab dies over it."""
        while True:
            presses = self.chance.randint(1, 2 * PRESSES_A_LIFE) if self.kills else MOST_PRESSES
            sent = self.hand.ask(SEND, {"presses": presses, "patience_ms": PATIENCE_S * 1000})
            self.presses += sent["pressed"]
            if sent["home"]:
                return
            assert self.presses < MOST_PRESSES, self.hand.words()
            self.die()

    def die(self):
        self.deaths += 1
        self.hand.kill()
        self.open()

    # --- a sitting, from the list to the list -------------------------------------------------------------------------

    def log_sitting(self, sitting):
        self.sitting, self.undo = sitting.pk, []
        prints = sitting.prints.select_related("piece")
        self.prints = {
            each.pk: Print(each.pk, each.piece_id, each.piece.limb[-4:]) for each in prints
        }
        self.move(f"#sitting-{sitting.pk}")
        while self.screen["step"] != "list":
            kind, _, of = self.screen["step"].partition(":")
            getattr(self, f"_at_{kind}")(of)

    def log_all(self, sittings):
        # What came home teaches the studio other sizes: they are those of the pack that she has now.
        self.expected = self.hand.ask(EXPECTED)
        for sitting in sittings:
            self.log_sitting(sitting)

    def _at_who(self, _):
        who = self.chance.choice(["contact", "Mother", "Father", "Grandparent"])
        self.who = self.screen["contact"] if who == "contact" else who
        self._tap(f"#who-{who}", self._arrive(ready=False), Undo(self._arrive(ready=False)))

    def _at_consent(self, purpose):
        if self._takes_back(0.1, "arrive", "consent"):
            return
        yes = purpose == "make" or self._sometimes(0.7)
        no_yet = Undo(self._consent(purpose, yes=False))
        self._tap("#yes" if yes else "#no", self._consent(purpose, yes=yes), no_yet)

    def _at_cautions(self, _):
        if not self._takes_back(0.1, "arrive", "consent"):
            self._tap("#ready", self._arrive(ready=True), Undo(self._arrive(ready=False)))

    def _at_limb(self, pk):
        small = [self._mark, self._length, self._note, self._tray, self._again, self._photo]
        for act in self.chance.sample(small, k=self.chance.choice([0, 0, 1, 1, 2])):
            act(int(pk))
        if self._takes_back(0.08, "impression"):
            return
        others = [each.outcome for each in self.prints.values() if each.pk != int(pk)]
        if "taken" in others and self._sometimes(0.15):
            self._print("#not_today", int(pk), outcome="not_today")
        elif "planned" in others and self._sometimes(0.07):
            self.move("#skip")  # and comes back to it
        else:
            limb = self.prints[int(pk)]
            asked = ("depth", "flat" if limb.kind == "hand" else "toes")
            marks = limb.marks | {mark: limb.marks[mark] is not False for mark in asked}
            self._print("#taken", limb.pk, outcome="taken", marks=marks, tray=self._tray_shown())

    def _at_look(self, _):
        if not self._takes_back(0.1, "impression", "look"):
            self._tap("#look", self._said("look"), Undo(self._said("look")))

    def _at_deposit(self, _):
        method = self.chance.choice(["cash", "card", "transfer", "not"])
        if method == "not":
            self._tap("#pay-not", None, Undo(None))
        else:
            paid = self._said("deposit", method=method)
            self._tap(f"#pay-{method}", paid, Undo(self._said("deposit_undo")))

    def _at_summary(self, _):
        if "first-open" in self.screen["there"]:
            self.move("#first-open")
        elif not self._takes_back(0.15, "impression", "look", "deposit_undo", ""):
            way = (
                "finish"
                if "finish" in self.screen["there"]
                else self.chance.choice(["finish-split", "finish-leave"])
            )
            put_off = "leave" if way == "finish-leave" else "split"
            self._tap(f"#{way}", self._said("finish", put_off=put_off), Undo(self._said("reopen")))

    def _at_over(self, _):
        if not self._takes_back(0.15, "reopen"):
            self.move("#leave")

    # --- what else there is to press at a limb ------------------------------------------------------------------------

    def _mark(self, pk):
        limb = self.prints[pk]
        mark = self.chance.choice(["depth", "flat" if limb.kind == "hand" else "toes"])
        self._print(f"#mark-{mark}", pk, marks=limb.marks | {mark: limb.marks[mark] is False})

    def _length(self, pk):
        """The first press takes what is expected of the age; every other is a millimetre more."""
        before = self.prints[pk].length_mm
        expected = self.expected[str(pk)] if before is None else before + 1
        self._print("#length-more", pk, length_mm=expected)

    def _note(self, pk):
        word, said = self.chance.choice(NOTES), self.prints[pk].note.split("; ")
        words = [each for each in said if each and each != word] + [word] * (word not in said)
        if not self.screen["notes_open"]:
            self.hand.ask(PRESS, "#notes summary")
        self._print(f"[id='note-{word}']", pk, note="; ".join(words))

    def _tray(self, pk):
        self._print("#tray-more", pk, tray=str(int(self._tray_shown()) + 1))

    def _again(self, pk):
        tries = self.prints[pk].tries + 1
        if self._print("#repeat", pk, outcome="repeat", tries=tries):
            # The marks were of the try that failed: they went with it, and are open anew.
            self.prints[pk] = replace(self.prints[pk], marks=dict(UNJUDGED))

    def _photo(self, pk):
        if self.picture and "photo" in self.screen["there"]:
            self.give(self.picture)
            self.photos.append(self.prints[pk].piece)

    def give(self, picture):
        """A photograph of the limb that is asked about; kept once the screen counts it."""
        self.hand.give_file("#photo", picture)
        before = self.screen["photos"]
        self.screen = self.hand.until(
            f"before => {{ const now = ({SCREEN})(); return now?.photos !== before && now; }}",
            before,
        )

    def _tray_shown(self):
        return self.screen["tray"]

    # --- taps ---------------------------------------------------------------------------------------------------------

    def _said(self, kind, **facts):
        return {"sitting": self.sitting, "kind": kind, **facts}

    def _arrive(self, *, ready):
        return self._said("arrive", who=self.who, ready=ready)

    def _consent(self, purpose, *, yes):
        return self._said("consent", purpose=purpose, yes=yes, given_by=self.who)

    def _print(self, selector, pk, **changed):
        former, limb = self.prints[pk], replace(self.prints[pk], **changed)
        back = Undo(
            self._said("impression", **former.facts), lambda: self.prints.update({pk: former})
        )
        if acknowledged := self._tap(selector, self._said("impression", **limb.facts), back):
            self.prints[pk] = limb
        return acknowledged

    def _takes_back(self, share, *kinds):
        """Now and then she presses Undo, where the last answer was of these kinds."""
        if not self.undo or self.undo[-1].kind not in kinds or not self._sometimes(share):
            return False
        last = self.undo[-1]
        if self._tap("#undo", last.said):
            self.undo.remove(last)
            last.back()
        return True

    def _tap(self, selector, said, undo=None):
        """One press. It was acknowledged if the screen shows it: at once, or after the tab had died."""
        self.taps += 1
        if self._sometimes(self.kills / 2):
            before = self.screen["shown"]
            self.hand.ask(PRESS, selector)  # and nobody waits for it
            self.deaths_under_way += 1
            self.die()
            if self.screen["shown"] == before:
                return False
        else:
            self.move(selector)
        if said:
            self.log.append(said)
        if undo:
            self.undo.append(undo)
        if self._sometimes(self.kills / 2):
            self._die_and_see()
        return True

    def _die_and_see(self):
        shown = self.screen["shown"]
        self.die()
        if self.screen["shown"] != shown:
            raise Lost(f"after {len(self.log)} answers\n{shown}\n{self.screen['shown']}")

    def move(self, selector):
        before = self.screen["shown"]
        given = {"selector": selector, "patience_ms": PATIENCE_S * 1000}
        self.screen = self.hand.ask(TAP, given)
        assert self.screen, f"{selector} moved nothing: {before}\n{self.hand.words()}"

    def _sometimes(self, share):
        return self.chance.random() < share
