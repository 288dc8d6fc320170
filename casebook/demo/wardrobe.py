"""What the invented cast wears, so that a viewer tells them apart at a glance."""

from __future__ import annotations

from casebook.demo.paint import Kit

WARDROBE: dict[str, Kit] = {
    "rowan": Kit(),
    "heron": Kit(
        skin=(0.66, 0.43, 0.31), suit=(0.06, 0.06, 0.07), stripe=(0.10, 0.42, 0.40), cap=(0.88, 0.88, 0.86),
        goggles=(0.05, 0.16, 0.24),
    ),
    "wren": Kit(
        skin=(0.47, 0.29, 0.20), suit=(0.05, 0.30, 0.34), stripe=(0.86, 0.62, 0.20), cap=(0.86, 0.36, 0.20),
        goggles=(0.04, 0.04, 0.05), one_piece=True,
    ),
    "alder": Kit(
        skin=(0.86, 0.62, 0.50), suit=(0.28, 0.10, 0.16), stripe=(0.75, 0.72, 0.66), cap=(0.30, 0.52, 0.78),
        goggles=(0.07, 0.07, 0.08),
    ),
}  # fmt: skip
