"""The accessibility engine (axe-core, vendored), asked for WCAG 2.2 A and AA."""

from pathlib import Path

ENGINE = (Path(__file__).parent / "vendor" / "axe-core" / "axe.min.js").read_text(encoding="utf-8")
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
# Only what is wrong leaves the page: all that the engine has to say takes longer to carry over than to find.
VIOLATIONS = """rules => axe.run(document, {runOnly: rules, resultTypes: ["violations"]}).then(
  (found) => found.violations.map(({ id, help, nodes }) => ({ id, help, nodes: nodes.map(({ html }) => ({ html })) }))
)"""


def complaints(page):
    """What the engine finds on an open page, one line each; `evaluate` passes a strict CSP."""
    if not page.evaluate("typeof axe === 'object'"):
        page.evaluate(ENGINE)
    found = page.evaluate(VIOLATIONS, RULES)
    return [
        f"{violation['id']}: {violation['help']}: {node['html'][:160]}"
        for violation in found
        for node in violation["nodes"]
    ]
