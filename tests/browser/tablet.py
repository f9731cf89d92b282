"""The tablet in a real browser: opened with a signal, taken away from it, killed, brought back."""

from django.urls import reverse

TABLET = (768, 1024)
TABLET_ON_ITS_SIDE = (1180, 820)
LEAST_PX = 48
# Every way to press something on the page, smaller than a thumb; empty where there is none.
TOO_SMALL = """least => [...document.querySelectorAll(
    "main :is(button, a, summary, label:not(.field__label), input, select, textarea)"
  )].filter((each) => each.checkVisibility() && !each.classList.contains("unseen")).map((each) => {
    const box = each.getBoundingClientRect();
    return [box.width, box.height, each.outerHTML.slice(0, 90)];
  }).filter(([width, height]) => width < least - 0.01 || height < least - 0.01)
    .map(([width, height, html]) => `${width.toFixed(1)} × ${height.toFixed(1)} px: ${html}`)"""
# Two that lie nearer than 12 px to each other, where a thumb would take the wrong one.
TOO_NEAR = """() => {
  const all = [...document.querySelectorAll("main :is(.answer, .chip, .button, summary)")]
    .filter((each) => each.checkVisibility())
    .map((each) => [each.getBoundingClientRect(), each.textContent.trim().slice(0, 40), each]);
  const foot = (each) => each.closest(".sit__foot") !== null;
  const near = [];
  all.forEach(([one, words, element], at) => all.slice(at + 1).forEach(([other, others, second]) => {
    if (foot(element) !== foot(second)) return; // the foot floats over what is scrolled
    const across = Math.max(one.left - other.right, other.left - one.right, 0);
    const down = Math.max(one.top - other.bottom, other.top - one.bottom, 0);
    if (across < 11.9 && down < 11.9) near.push(`${words} / ${others}: ${across} × ${down} px`);
  }));
  return near;
}"""
UNSENT = """() => new Promise((resolve, reject) => {
  const asked = indexedDB.open("caststead-tablet");
  asked.onerror = reject;
  asked.onsuccess = () => {
    const all = asked.result.transaction("entries").objectStore("entries").getAll();
    all.onsuccess = () => { asked.result.close(); resolve(all.result); };
  };
})"""
# What the browser itself says of a request that had no network.
OF_NO_SIGNAL = ("ERR_INTERNET_DISCONNECTED", "ERR_NETWORK_CHANGED", "ERR_FAILED")


class Tablet:
    """A window on the tablet's page. `taps` counts; each waits until the screen has moved."""

    def __init__(self, window):
        self.window = window
        self.taps = 0

    @property
    def page(self):
        return self.window.page

    def open(self):
        self.page.goto(reverse("studio:tablet"))
        return self.ready()

    def ready(self):
        self.page.locator("#question[data-step]").wait_for()
        return self

    def take_along(self):
        """Opened with a signal until it would open without: the pack is in, the worker holds the page."""
        self.open()
        self.page.locator(".answer[id^=sitting-]").first.wait_for()
        self.page.evaluate("navigator.serviceWorker.ready.then(() => true)")
        self.page.wait_for_function("navigator.serviceWorker.controller !== null")
        return self

    def signal(self, there):
        self.window.context.set_offline(not there)

    def begin(self, sitting):
        return self.tap(f"#sitting-{sitting.pk}")

    @property
    def step(self):
        return self.page.get_attribute("#question", "data-step")

    @property
    def heading(self):
        return self.page.locator("h1").inner_text()

    def tap(self, selector, *, stays=False):
        """One press; `stays` where the same question goes on and only its state changes."""
        before = self.step
        seen = self.page.evaluate("document.getElementById('said').textContent")
        self.page.locator(selector).click()
        self.taps += 1
        if stays:
            self.page.wait_for_function(
                "seen => document.getElementById('said').textContent !== seen", arg=seen
            )
        else:
            self.page.wait_for_function(
                "before => document.getElementById('question').dataset.step !== before", arg=before
            )
        return self

    def kill(self):
        """The tab is gone without a word; another one is opened."""
        self.page.close()
        self.window.page = self.window.context.new_page()
        self.page.goto(reverse("studio:tablet"))
        return self.ready()

    def unsent(self):
        return self.page.evaluate(UNSENT)

    def until_home(self):
        self.page.wait_for_function(
            "() => /at home/.test(document.getElementById('safe')?.textContent ?? '') ||"
            " (document.querySelector('[data-step=list]') && !document.getElementById('unsent'))"
        )
        return self

    def until_home_after_a_press(self):
        self.page.locator("#send").click()
        return self.until_home()

    def forgive_no_signal(self):
        self.window.faults[:] = [
            fault for fault in self.window.faults if not any(word in fault for word in OF_NO_SIGNAL)
        ]


def small_targets(page):
    return page.evaluate(TOO_SMALL, LEAST_PX) + page.evaluate(TOO_NEAR)
