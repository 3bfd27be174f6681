"""Colours, type and the mark: the look of the pages, in one place."""

from __future__ import annotations

INK, PAPER, STONE, SEA, CLAY = "#14232b", "#fbfaf6", "#eeebe2", "#0b5a78", "#a3430f"
DARK_INK, NIGHT, SLATE, SKY, SAND = "#eef2f0", "#10181d", "#1b262c", "#7cc4e2", "#f0a878"

THEME = {
    "theme.font": "sans-serif",
    "theme.baseRadius": "6px",
    "theme.baseFontSize": 17,
    "theme.headingFontSizes": ["1.9rem", "1.5rem", "1.25rem", "1.1rem", "1rem", "1rem"],
    "theme.light.primaryColor": SEA,
    "theme.light.backgroundColor": PAPER,
    "theme.light.secondaryBackgroundColor": STONE,
    "theme.light.textColor": INK,
    "theme.light.borderColor": "#b9b4a5",
    "theme.light.linkColor": SEA,
    "theme.dark.primaryColor": "#2a7ea3",
    "theme.dark.backgroundColor": NIGHT,
    "theme.dark.secondaryBackgroundColor": SLATE,
    "theme.dark.textColor": DARK_INK,
    "theme.dark.borderColor": "#46545c",
    "theme.dark.linkColor": SKY,
}

MARK = (
    '<svg viewBox="0 0 48 24" width="48" height="24" role="img" aria-label="">'
    '<path d="M3 21 Q24 -11 45 21" fill="none" stroke="currentColor" stroke-width="3" '
    'stroke-linecap="round"/><path d="M3 21h10M35 21h10M24 5v6" stroke="currentColor" '
    'stroke-width="3" stroke-linecap="round"/></svg>'
)
"""A flight between two grounds, its top marked."""

ENTRANCE_STYLE = f"""
:root{{color-scheme:light dark;--ink:{INK};--paper:{PAPER};--stone:{STONE};--lead:{SEA};
--warn:{CLAY};--line:#8b8778}}
@media (prefers-color-scheme:dark){{:root{{--ink:{DARK_INK};--paper:{NIGHT};--stone:{SLATE};
--lead:{SKY};--warn:{SAND};--line:#6b7980}}}}
*{{box-sizing:border-box}}
body{{margin:0;background:var(--paper);color:var(--ink);font:18px/1.5 system-ui,sans-serif}}
main{{max-width:27rem;margin:0 auto;padding:2.5rem 1.25rem 4rem}}
.mark{{display:flex;gap:.6rem;align-items:center;color:var(--lead);font-weight:600}}
h1{{font-size:1.9rem;line-height:1.2;margin:1.2rem 0 .6rem}}
label,legend{{display:block;margin:1.1rem 0 .3rem;font-weight:600}}
input,select,button{{font:inherit;color:inherit;width:100%;min-height:48px;padding:.5rem .7rem;
border:1px solid var(--line);border-radius:6px;background:var(--paper)}}
button{{margin-top:1.6rem;background:var(--lead);color:var(--paper);border:0;font-weight:600}}
:focus-visible{{outline:3px solid var(--lead);outline-offset:2px}}
fieldset{{margin:1.6rem 0 0;border:1px solid var(--line);border-radius:6px;padding:0 1rem 1.2rem;
background:var(--stone)}}
.tick{{display:flex;gap:.7rem;align-items:center}}.tick input{{width:24px;min-height:24px}}
.way{{display:flex;align-items:center;justify-content:center;min-height:48px;color:inherit;
border:1px solid var(--line);border-radius:6px}}
.fault{{border-left:5px solid var(--warn);background:var(--stone);padding:.7rem 1rem}}
"""
