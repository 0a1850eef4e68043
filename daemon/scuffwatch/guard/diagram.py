"""The permit state diagram, made from the table, for DEVELOPERS.md.

Reads `states.TRANSITIONS`; gives text. A test compares it with what stands between the two markers.
"""

from scuffwatch.guard.states import TRANSITIONS, initial

MARKER_BEGIN = "<!-- guard-diagram -->"
MARKER_END = "<!-- /guard-diagram -->"


def diagram() -> str:
    """Give the state diagram as a fenced mermaid block, without the markers and without a line end."""
    begin = initial()
    lines = ["```mermaid", "stateDiagram-v2", f"    [*] --> {begin.permit.value}: {begin.first_out.kind.value}"]
    lines += [f"    {row.before.value} --> {row.after.value}: {row.trigger.value} / {row.does}" for row in TRANSITIONS]
    return "\n".join([*lines, "```"])
