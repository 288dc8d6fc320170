"""Charts as a list of shapes, drawn once and shown twice: as SVG on the page, as PNG in the notebook.

A shape has a role (band, ring, bar ...) and the role has one look in both places; y runs down. Units are those of the
figure's own size.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass, replace

from casebook.pages.markup import Html, el, join
from casebook.pages.palette import LIGHT, Tones


@dataclass(frozen=True, slots=True)
class Look:
    """Stroke tone, stroke width, fill tone, dash and the fill's opacity; tones are names of ``palette.Tones``."""

    stroke: str = ""
    width: float = 0.0
    fill: str = ""
    dash: tuple[float, ...] = ()
    fade: float = 1.0


ROLES: dict[str, Look] = {
    "target": Look(fill="target"),
    "edge": Look("edge", 1.6),
    "axis": Look("rule", 1.2),
    "tick": Look("soft", 1.0),
    "zero": Look("soft", 0.8, dash=(2, 3)),
    "ring": Look("ink", 1.5, "paper"),
    "whisker": Look("soft", 1.1),
    "these": Look("ink", 5.0),
    "habit": Look("ink", 1.3),
    "mean": Look("ink", 3.0),
    "right": Look("sea", 2.2),
    "left": Look("warm", 2.2, dash=(7, 4)),
    "leader": Look("soft", 0.8),
    "plain": Look("ink", 2.2),
    "other": Look("soft", 2.2, dash=(2, 3)),
    "thin_right": Look("sea", 1.0),
    "thin_left": Look("warm", 1.0, dash=(7, 4)),
    "thin_plain": Look("ink", 1.0),
    "thin_other": Look("soft", 1.0, dash=(2, 3)),
    "spread_right": Look(fill="sea", fade=0.16),
    "spread_left": Look(fill="warm", fade=0.16),
    "spread_plain": Look(fill="ink", fade=0.14),
    "spread_other": Look(fill="soft", fade=0.22),
    "reach_right": Look("sea", 1.2, "sea", fade=0.10),
    "reach_left": Look("warm", 1.2, "warm", fade=0.10),
    "pull_right": Look("sea", 1.2, "sea", fade=0.45),
    "pull_left": Look("warm", 1.2, "warm", fade=0.45),
    "push_right": Look("sea", 1.2, "sea"),
    "push_left": Look("warm", 1.2, "warm"),
    "over_right": Look("sea", 1.4),
    "over_left": Look("warm", 1.4),
    "dot_right": Look("sea", 1.6, "sea"),
    "dot_left": Look("warm", 1.8, "paper"),
    "arc_right": Look("sea", 4.5),
    "arc_left": Look("warm", 4.5),
    "wedge": Look(fill="rule", fade=0.7),
    "nobody": Look("soft", 1.6, dash=(1.5, 3)),
}
TEXTS: dict[str, tuple[str, float, bool]] = {
    "number": ("soft", 11.0, False),
    "fine": ("soft", 11.0, False),
    "aim": ("edge", 11.0, False),
    "name": ("ink", 12.5, True),
    "say": ("ink", 12.0, False),
    "rightname": ("sea", 12.0, True),
    "leftname": ("warm", 12.0, True),
}


@dataclass(frozen=True, slots=True)
class Rect:
    """A filled area."""

    x: float
    y: float
    w: float
    h: float
    role: str


@dataclass(frozen=True, slots=True)
class Ring:
    """One stroke."""

    x: float
    y: float
    r: float
    role: str = "ring"


@dataclass(frozen=True, slots=True)
class Path:
    """A line through points."""

    points: tuple[tuple[float, float], ...]
    role: str


@dataclass(frozen=True, slots=True)
class Area:
    """A filled shape with these corners."""

    points: tuple[tuple[float, float], ...]
    role: str


@dataclass(frozen=True, slots=True)
class Words:
    """Text; ``anchor`` is start, middle or end."""

    x: float
    y: float
    text: str
    role: str = "number"
    anchor: str = "middle"


Shape = Rect | Ring | Path | Area | Words


def line(x0: float, y0: float, x1: float, y1: float, role: str) -> Path:
    """A straight line."""
    return Path(((x0, y0), (x1, y1)), role)


def moved(shapes: Sequence[Shape], dx: float, dy: float) -> list[Shape]:
    """The same shapes elsewhere."""
    out: list[Shape] = []
    for s in shapes:
        if isinstance(s, Path | Area):
            out.append(replace(s, points=tuple((x + dx, y + dy) for x, y in s.points)))
        else:
            out.append(replace(s, x=s.x + dx, y=s.y + dy))
    return out


def to_svg(shapes: Sequence[Shape], size: tuple[float, float], alt: str, cls: str = "") -> Html:
    """The figure as inline SVG, dressed by the page's stylesheet."""
    return el(
        "svg",
        join(_svg(s) for s in shapes),
        cls=f"chart {cls}".strip(),
        viewbox=f"0 0 {size[0]:g} {size[1]:g}",
        role="img",
        aria_label=alt,
    )


def to_png(shapes: Sequence[Shape], size: tuple[float, float], tones: Tones = LIGHT, scale: float = 2.0) -> bytes:
    """The figure as PNG of ``scale`` pixels a unit, in the same tones."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    width, height = size
    figure = Figure(figsize=(width / 72, height / 72), dpi=72 * scale, facecolor=tones.paper)
    FigureCanvasAgg(figure)
    axes = figure.add_axes((0, 0, 1, 1))
    axes.set(xlim=(0, width), ylim=(height, 0))
    axes.axis("off")
    for order, shape in enumerate(shapes):
        _paint(axes, shape, tones, order)
    out = io.BytesIO()
    figure.savefig(out, format="png", metadata={"Software": None})
    return out.getvalue()


def role_css() -> str:
    """The looks of all roles as rules for the page."""
    rules = []
    for role, look in ROLES.items():
        rule = f"fill:{f'var(--{look.fill})' if look.fill else 'none'}"
        if look.fade < 1:
            rule += f";fill-opacity:{look.fade:g}"
        if look.stroke:
            rule += f";stroke:var(--{look.stroke});stroke-width:{look.width:g}"
        if look.dash:
            rule += f";stroke-dasharray:{' '.join(f'{d:g}' for d in look.dash)}"
        rules.append(f".chart .{role}{{{rule}}}")
    for role, (tone, points, bold) in TEXTS.items():
        rules.append(f".chart .{role}{{fill:var(--{tone});font-size:{points:g}px;font-weight:{600 if bold else 400}}}")
    return "\n".join(rules)


def _svg(s: Shape) -> Html:
    if isinstance(s, Rect):
        return el("rect", x=f"{s.x:.1f}", y=f"{s.y:.1f}", width=f"{s.w:.1f}", height=f"{s.h:.1f}", cls=s.role)
    if isinstance(s, Ring):
        return el("circle", cx=f"{s.x:.1f}", cy=f"{s.y:.1f}", r=f"{s.r:g}", cls=s.role)
    if isinstance(s, Area):
        corners = " ".join(f"{x:.1f},{y:.1f}" for x, y in s.points)
        return el("polygon", points=corners, cls=s.role)
    if isinstance(s, Path):
        d = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in s.points)
        return el("path", d=d, cls=s.role)
    return el("text", s.text, x=f"{s.x:.1f}", y=f"{s.y:.1f}", cls=s.role, text_anchor=s.anchor)


def _paint(axes: object, s: Shape, tones: Tones, order: int) -> None:
    from matplotlib.patches import Circle, Polygon, Rectangle

    add = axes.add_patch  # type: ignore[attr-defined]
    if isinstance(s, Words):
        tone, points, bold = TEXTS[s.role]
        axes.text(  # type: ignore[attr-defined]
            s.x, s.y, s.text.replace("$", r"\$"), color=getattr(tones, tone), fontsize=points, zorder=order,
            fontweight="bold" if bold else "normal", fontfamily="DejaVu Sans", va="baseline",
            ha={"start": "left", "middle": "center", "end": "right"}[s.anchor],
        )  # fmt: skip
        return
    look = ROLES[s.role]
    stroke = getattr(tones, look.stroke) if look.stroke else "none"
    fill = (getattr(tones, look.fill), look.fade) if look.fill else "none"
    if isinstance(s, Rect):
        add(Rectangle((s.x, s.y), s.w, s.h, facecolor=fill, edgecolor=stroke, linewidth=look.width, zorder=order))
    elif isinstance(s, Area):
        add(Polygon(s.points, closed=True, facecolor=fill, edgecolor=stroke, linewidth=look.width, zorder=order))
    elif isinstance(s, Ring):
        add(Circle((s.x, s.y), s.r, facecolor=fill, edgecolor=stroke, linewidth=look.width, zorder=order))
    else:
        dash = (0, tuple(d / look.width for d in look.dash)) if look.dash else "-"
        xs, ys = zip(*s.points, strict=True)
        axes.plot(  # type: ignore[attr-defined]
            xs, ys, color=stroke, linewidth=look.width, linestyle=dash, zorder=order, solid_capstyle="butt"
        )
