"""The local reset button: which press counts.

Reads the button step by step; gives a press that counts, or one sentence why it does not. Part of the guard's step.

A press counts when its rising edge was seen, everything else was ready from there to its end, it was held neither too
short nor too long, and its release was seen. So it acts on the falling edge, a button that sticks never resets, and
neither a plug pulled while it is held nor one pushed in while it is held is a press.
"""

from scuffwatch.guard.values import GuardSettings, Press

HALF_TICK_S = 0.5e-6
"""Node time moves in whole microseconds; half of one absorbs what floating point makes of them."""
_ALREADY_HELD = "The button was held before it could count. Let go, then press again."
_LOST_SIGHT = "The rig box was not heard while the button was held. Press again."


def judge(
    press: Press, pressed: bool | None, t_s: float, unmet: str, hole: bool, settings: GuardSettings
) -> tuple[Press, bool, str]:
    """Follow the button by one step.

    Args:
        press: what the last step gave.
        pressed: the button now; None where it is not known or the link is down.
        t_s: node time, s.
        unmet: sentence of the first other need that is not met; empty where all are.
        hole: whether node time has jumped since the last step.
        settings: times.
    Returns:
        The button as followed, whether a press that counts ended in this step, and why the press is refused;
        the sentence comes once a press and is empty otherwise.
    """
    if pressed is None:
        begun = press.since_t_s is not None
        return Press(None, None, press.refused or begun), False, _LOST_SIGHT if begun else ""
    if press.since_t_s is None:
        return _not_begun(press, pressed, t_s, unmet, hole)
    held_s = t_s - press.since_t_s
    why = _why_not(held_s, pressed, unmet, hole, settings)
    if pressed:
        return (Press(None, True, True), False, why) if why else (press, False, "")
    return Press(None, False, False), not why, why


def _not_begun(press: Press, pressed: bool, t_s: float, unmet: str, hole: bool) -> tuple[Press, bool, str]:
    if not pressed:
        return Press(None, False, False), False, ""
    if press.refused:
        return Press(None, True, True), False, ""
    why = unmet if unmet else "" if press.was is False and not hole else _ALREADY_HELD
    return (Press(None, True, True), False, why) if why else (Press(t_s, True, False), False, "")


def _why_not(held_s: float, pressed: bool, unmet: str, hole: bool, settings: GuardSettings) -> str:
    if hole:
        return _LOST_SIGHT
    if unmet:
        return unmet
    if held_s > settings.reset_max_s + HALF_TICK_S:
        return f"Button held longer than {settings.reset_max_s:g} s. Let go, then press again."
    if not pressed and held_s < settings.reset_min_s - HALF_TICK_S:
        return f"Button held {held_s:.2f} s, at least {settings.reset_min_s:g} s needed. Press again."
    return ""
