"""The state diagram of DEVELOPERS.md is the one the table gives."""

from pathlib import Path

from scuffwatch.guard.diagram import MARKER_BEGIN, MARKER_END, diagram
from scuffwatch.guard.states import TRANSITIONS

DEVELOPERS = Path(__file__).parents[3] / "DEVELOPERS.md"


def test_the_diagram_has_the_start_and_one_line_a_row():
    lines = diagram().splitlines()
    assert lines[:3] == ["```mermaid", "stateDiagram-v2", "    [*] --> tripped: start_up"]
    assert len(lines) == len(TRANSITIONS) + 4
    assert sum(line.startswith("    tripped --> permitted: ") for line in lines) == 1


def test_developers_md_carries_the_diagram():
    text = DEVELOPERS.read_text("utf-8")
    assert text.count(MARKER_BEGIN) == text.count(MARKER_END) == 1
    assert text.split(MARKER_BEGIN)[1].split(MARKER_END)[0].strip() == diagram()
