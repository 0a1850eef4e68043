"""The values that cross rooms: frozen, slotted, with the unit in every name."""
