"""The record, shown: the list of runs, one run, its plots, its download.

Reads the archive, gives pages and JSON. A run is found by its name in the archive's own list and by nothing else, so
no name from outside ever becomes a path.
"""

import math
from typing import Any

from flask import Blueprint, Response, abort, jsonify, render_template, request

from scuffboard import run_plot, run_view
from scuffboard.hub import Seed
from scuffboard.run_verify import Verifier, Verify
from scuffboard.security import check_reader_origin
from scuffwatch.model.run import RunKind
from scuffwatch.store.reader import Archive, RunSummary

POINTS_MOST = 4000
SPAN_MOST_S = 400.0 * 86_400.0

Json = dict[str, Any]


def make_blueprint(archive: Archive, verify: Verify) -> Blueprint:
    """Give the routes over one archive, and over what verifies a run of it by name."""
    blueprint, verifier = Blueprint("runs", __name__), Verifier(verify)

    @blueprint.get("/runs")
    def run_list() -> str:
        rows = [run_view.list_row(summary) for summary in archive.runs()]
        return render_template("runs.html", rows=rows)

    @blueprint.get("/runs/<name>")
    def run(name: str) -> str:
        summary = find(archive, name)
        with archive.open_run(summary.header.name) as reader:
            view = run_view.run_page(summary, reader)
        return render_template("run.html", view=view)

    @blueprint.get("/runs/<name>/envelope")
    def envelope(name: str) -> Response:
        check_reader_origin()
        channel, t0_s, t1_s, points = window(request.args)
        with archive.open_run(find(archive, name).header.name) as reader:
            if channel not in run_plot.channel_names(reader):
                abort(404)
            return jsonify(run_plot.envelope_json(run_plot.envelope(reader, channel, t0_s, t1_s, points)))

    @blueprint.get("/runs/<name>/export")
    def export(name: str) -> Response:
        check_reader_origin()
        from scuffboard.run_export import bundle

        summary = find(archive, name)
        with archive.open_run(summary.header.name) as reader:
            body = bundle(summary, reader)
        response = Response(body, mimetype="application/zip")
        response.headers["Content-Disposition"] = f'attachment; filename="{summary.header.name}.zip"'
        return response

    @blueprint.get("/runs/<name>/verify")
    def verified(name: str) -> Response:
        check_reader_origin()
        summary = find(archive, name)
        if summary.live:
            return jsonify(checked=False, says="Not verified: the run is under way. A record is verified once closed.")
        return jsonify(verifier.check(summary.header.name))

    @blueprint.get("/last-test")
    def last_test() -> Response:
        tests = [summary.header for summary in archive.runs() if summary.header.kind is RunKind.TEST]
        return jsonify(run_view.plan_of(tests[0]) if tests else {})

    return blueprint


def find(archive: Archive, name: str) -> RunSummary:
    """Give the summary of the run with exactly this name, or answer 404."""
    for summary in archive.runs():
        if summary.header.name == name:
            return summary
    return abort(404)


def window(args: Any) -> tuple[str, float, float, int]:
    """Give channel, start, end and number of points of a plot, or answer 400."""
    try:
        t0_s, t1_s, points = float(args["t0"]), float(args["t1"]), int(args.get("points", 1000))
        channel = str(args["channel"])
    except (KeyError, ValueError):
        abort(400, "A plot needs channel, t0 and t1.")
    if not (math.isfinite(t0_s) and math.isfinite(t1_s) and t0_s < t1_s <= t0_s + SPAN_MOST_S):
        abort(400, "The plot's start and end are not in order.")
    return channel, t0_s, t1_s, max(2, min(points, POINTS_MOST))


def climb_seed(archive: Archive) -> Seed:
    """Give what fills the climb of a run that was open before this server started."""

    def seed(snapshot: Json) -> list[tuple[int, float, dict[str, float], dict[str, float]]]:
        return run_view.climb_rows(archive, snapshot)

    return seed
