"""How to film each exercise: a drawing and three lines."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class FilmGuide:
    """What an athlete reads before filming."""

    lines: tuple[str, str, str]
    seen_from: str
    """``side``, ``front`` or ``lane``."""


_SIDE = FilmGuide(
    ("Phone upright or flat, on a bag at knee height, 4 to 5 metres to your side. It stays still.",
     "Your whole body and the floor under you in the picture, with room above your head.",
     "Film at 60 pictures a second or more. Stand still for a second, jump, hold for a second."),
    "side",
)  # fmt: skip
_FRONT = FilmGuide(
    ("Phone upright on a bag at knee height, 4 to 5 metres straight in front of you. It stays "
     "still.", *_SIDE.lines[1:]),
    "front",
)  # fmt: skip
_LANE = FilmGuide(
    ("Phone flat on something at hip height, 10 to 15 metres beside the middle of the lane. It "
     "stays still.",
     "All cones in the picture where they meet the ground. Same phone, same place as in “Places”.",
     "Film from two seconds before the start to two seconds after the last cone."),
    "lane",
)  # fmt: skip
_HOPS = FilmGuide(
    (_SIDE.lines[0], "Box, all hurdles and the landing in the picture, feet never hidden.",
     "120 pictures a second or more: short contacts need them. One row per clip."),
    "side",
)  # fmt: skip

GUIDES = {
    "vertical": _SIDE,
    "one_step_vertical": _SIDE,
    "single_leg_vertical": _FRONT,
    "drop_hops": _HOPS,
    "turn_jump": _FRONT,
    "approach_jump": _SIDE,
    "sprint": _LANE,
    "shuffle_sprint": _LANE,
}


def guide_for(exercise: str | None) -> FilmGuide:
    """Give how to film an exercise."""
    return GUIDES.get(exercise or "", _SIDE)


def draw_guide(guide: FilmGuide) -> str:
    """Draw where the phone stands, from above and from behind it."""
    body = {"side": _side_body, "front": _front_body, "lane": _lane_body}[guide.seen_from]()
    name = {
        "side": "A phone on a bag looks at the athlete from the side",
        "front": "A phone on a bag looks at the athlete from the front",
        "lane": "A phone beside the middle of a row of cones",
    }[guide.seen_from]
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 420 190" '
        f'style="width:100%;max-width:440px;height:auto" role="img" aria-label="{name}" '
        'fill="none" stroke="currentColor" stroke-width="3" stroke-linecap="round" '
        f'stroke-linejoin="round" font-family="sans-serif">{body}</svg>'
    )


def _text(x: int, y: int, text: str) -> str:
    return (
        f'<text x="{x}" y="{y}" font-size="15" fill="currentColor" stroke="none" '
        f'text-anchor="middle">{text}</text>'
    )


def _phone(x: int) -> str:
    return (
        f'<rect x="{x - 22}" y="132" width="44" height="24" rx="8"/>'
        f'<rect x="{x - 8}" y="96" width="15" height="34" rx="3"/>'
        f'<circle cx="{x}" cy="104" r="2"/>'
    )


def _ground() -> str:
    return '<path d="M12 158H408" opacity=".5"/>'


def _side_body() -> str:
    return (
        f"{_ground()}{_phone(60)}"
        '<circle cx="318" cy="44" r="11"/><path d="M316 55l-6 42 16 26-8 33h14M314 64l-20 20'
        'M314 64l22 20"/>'
        '<path d="M74 104L290 30M74 110L290 158" stroke-dasharray="5 7" opacity=".6"/>'
        '<rect x="268" y="14" width="104" height="152" opacity=".35"/>'
        f'{_text(180, 180, "4 to 5 m")}'
    )


def _front_body() -> str:
    return (
        f"{_ground()}{_phone(60)}"
        '<circle cx="318" cy="44" r="11"/><path d="M318 55v44M318 99l-14 57M318 99l14 57'
        'M318 64l-24 26M318 64l24 26M296 156h10M330 156h10"/>'
        '<path d="M74 104L280 30M74 110L280 158" stroke-dasharray="5 7" opacity=".6"/>'
        '<rect x="266" y="14" width="104" height="152" opacity=".35"/>'
        f'{_text(180, 180, "4 to 5 m")}'
    )


def _lane_body() -> str:
    cones = "".join(f'<path d="M{x} 46l-7 16h14z"/>' for x in (40, 125, 210, 295, 380))
    return (
        f'{cones}<path d="M20 36H400" stroke-dasharray="2 8"/><path d="M386 28l14 8-14 8"/>'
        '<rect x="202" y="138" width="16" height="26" rx="3"/>'
        '<path d="M210 138L40 66M210 138L380 66" stroke-dasharray="5 7" opacity=".6"/>'
        f'{_text(210, 184, "10 to 15 m beside the middle")}{_text(210, 22, "run beside the cones")}'
    )
