"""Exact run lengths beside Debian's r-cran-spc, which solves the same integral equation in its own way (Knoth)."""

import shutil
import subprocess

import pytest

from scuffwatch.detect.arl import exact_arl, exact_threshold

CASES = [(0.25, 8.0, 0.0), (0.5, 4.0, 0.0), (0.5, 4.0, 1.0), (0.65, 10.4, 0.0), (1.0, 6.8, 0.5), (1.5, 4.4, 3.0)]


def ask_r(expression: str) -> float:
    program = shutil.which("Rscript")
    assert program is not None, "Rscript is missing: apt-get install r-cran-spc, then run the long tests again"
    said = subprocess.run(
        [program, "-e", f"suppressMessages(library(spc)); cat(sprintf('%.12g', {expression}))"],
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert said.returncode == 0, f"r-cran-spc did not answer: {said.stderr}"
    return float(said.stdout)


@pytest.mark.long
@pytest.mark.parametrize(("k", "h", "shift"), CASES)
def test_run_lengths(k: float, h: float, shift: float) -> None:
    assert exact_arl(k, h, shift) == pytest.approx(ask_r(f"xcusum.arl({k}, {h}, {shift}, r=200)"), rel=1e-6)


@pytest.mark.long
def test_a_threshold() -> None:
    assert exact_threshold(0.5, 1e6) == pytest.approx(ask_r("xcusum.crit(0.5, 1e6, r=200)"), rel=1e-5)
