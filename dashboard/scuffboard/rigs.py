"""The page of all rigs: one tile a rig, out of the list that `scuffwatch uplink --wall FILE` writes. It only shows."""

from flask import Blueprint, render_template

from scuffboard import live
from scuffboard.hub import LiveHub


def make_blueprint(hub: LiveHub | None) -> Blueprint:
    """Give the page, and its stream where there is a list to follow; without one the page says what to set."""
    blueprint = Blueprint("rigs", __name__)

    @blueprint.get("/rigs")
    def rigs() -> str:
        return render_template("rigs.html" if hub is not None else "rigs_unset.html")

    if hub is not None:
        live.add_stream(blueprint, hub, "/rigs")
    return blueprint
