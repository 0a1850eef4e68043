"""The live pages: wall, bench, alarms, settings. Everything that moves on them comes over the live stream."""

from flask import Blueprint, render_template


def make_blueprint() -> Blueprint:
    """Give the routes of the pages that need no record."""
    blueprint = Blueprint("pages", __name__)

    @blueprint.get("/")
    @blueprint.get("/wall")
    def wall() -> str:
        return render_template("wall.html")

    @blueprint.get("/bench")
    def bench() -> str:
        return render_template("bench.html")

    @blueprint.get("/alarms")
    def alarms() -> str:
        return render_template("alarms.html")

    @blueprint.get("/settings")
    def settings() -> str:
        return render_template("settings.html")

    return blueprint
