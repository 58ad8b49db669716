"""A page of HTML that needs nothing beside itself: pictures, charts, style and script are all within it.

Words come as they are and are made safe here; charts come as SVG.
"""

from base64 import b64encode
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape

# Okabe, Ito: Color Universal Design, 2008: blue and vermilion are told apart with every kind of colour vision; the two
# of each kind of line differ in their dashes, too.
_STYLE = """
:root{color-scheme:light dark;--paper:#fff;--ink:#22272b;--quiet:#5d666e;--line:#d9dee2;--bar:#56b4e9;--mark:#0072b2;
--limit:#b04a00;--card:#f5f7f8}
@media (prefers-color-scheme:dark){:root{--paper:#16191c;--ink:#e8ebed;--quiet:#a4adb5;--line:#3a4147;--bar:#2f7fb0;
--mark:#8fd0f5;--limit:#ff9a57;--card:#1f2428}}
*{box-sizing:border-box}
body{margin:0 auto;max-width:72rem;padding:1rem;background:var(--paper);color:var(--ink);
font:1rem/1.5 system-ui,"Segoe UI",Roboto,Helvetica,Arial,sans-serif;overflow-wrap:break-word}
h1{font-size:1.6rem;line-height:1.2;margin:.5rem 0}h2{font-size:1.2rem;margin:2.2rem 0 .6rem}
p{max-width:46rem;margin:.5rem 0}.quiet,figcaption,caption{color:var(--quiet);font-size:.875rem}
.warn{border-left:.3rem solid var(--limit);padding:.3rem .8rem;background:var(--card)}
dl{display:grid;grid-template-columns:repeat(auto-fit,minmax(8rem,1fr));gap:.6rem;margin:1rem 0}
dl div{background:var(--card);padding:.6rem .8rem;border-radius:.4rem;display:flex;flex-direction:column-reverse;
justify-content:flex-end}
dd{margin:0;font-size:1.25rem;font-variant-numeric:tabular-nums}dt{color:var(--quiet);font-size:.8rem}
.pair{position:relative;width:fit-content;max-width:100%;margin:0 auto;overflow:hidden;border-radius:.4rem;
line-height:0}
.pair img{display:block;max-width:100%;height:auto}
.pair img+img{position:absolute;inset:0;width:100%;height:100%;clip-path:inset(0 0 0 var(--at))}
.pair::after{content:"";position:absolute;top:0;bottom:0;left:var(--at);width:2px;margin-left:-1px;background:#fff;
box-shadow:0 0 3px #000;pointer-events:none}
.pair input{position:absolute;inset:0;width:100%;height:100%;margin:0;z-index:1;appearance:none;background:none;
cursor:ew-resize;touch-action:pan-y;opacity:0}
.pair input::-webkit-slider-thumb{appearance:none;width:1px;height:100%}
.pair input::-moz-range-thumb{width:1px;height:100%;border:0}
.pair:focus-within{outline:3px solid var(--mark);outline-offset:2px}
.pair b{position:absolute;bottom:.6rem;padding:.15rem .5rem;border-radius:.3rem;background:#000b;color:#fff;
font-size:.8rem;font-weight:400;line-height:1.4;pointer-events:none}.pair b{left:.6rem}.pair b+b{left:auto;right:.6rem}
.charts{display:grid;grid-template-columns:repeat(auto-fit,minmax(min(18rem,100%),1fr));gap:1rem}
figure{margin:0}.charts figure{max-width:36rem;background:var(--card);padding:.5rem .6rem;border-radius:.4rem}
svg{width:100%;height:auto;display:block}svg text{font-family:inherit!important}
.scroll{overflow-x:auto}table{border-collapse:collapse;font-size:.9rem;min-width:min(100%,24rem)}
caption{text-align:left;padding:.2rem 0}th,td{padding:.3rem .8rem .3rem 0;text-align:left;vertical-align:top;
border-bottom:1px solid var(--line)}th{color:var(--quiet);font-weight:600}
.number{text-align:right;font-variant-numeric:tabular-nums;white-space:nowrap}
summary{cursor:pointer}details p{font-size:.875rem}
"""
_SCRIPT = (
    'for(const pair of document.querySelectorAll(".pair"))pair.querySelector("input").addEventListener("input",'
    'turned=>pair.style.setProperty("--at",turned.target.value+"%"))'
)
# A browser then asks nobody for anything, whatever a name in the page may say.
_RULES = "default-src 'none'; img-src data:; style-src 'unsafe-inline'; script-src 'unsafe-inline'"


@dataclass(frozen=True)
class Photo:
    """A picture in a format that browsers know."""

    content: bytes
    mime: str
    wide: int  # px
    tall: int
    alt: str  # what it shows, for who does not see it


def page(title: str, sections: Iterable[str]) -> str:
    """The whole page; equal sections give equal text."""
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{_RULES}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{safe(title)}</title>\n<style>{_STYLE}</style>\n</head>\n<body>\n<main>\n<h1>{safe(title)}</h1>\n"
        + "\n".join(sections)
        + f"\n</main>\n<script>{_SCRIPT}</script>\n</body>\n</html>\n"
    )


def section(heading: str, *parts: str) -> str:
    return "\n".join([f"<section>\n<h2>{safe(heading)}</h2>", *parts, "</section>"])


def words(text: str, kind: str = "") -> str:
    """A paragraph; of a `kind` the style knows."""
    return f'<p class="{kind}">{safe(text)}</p>' if kind else f"<p>{safe(text)}</p>"


def figures(told: Iterable[tuple[str, str]]) -> str:
    """Numbers that are seen first, each under what it is."""
    return "<dl>" + "".join(f"<div><dt>{safe(what)}</dt><dd>{safe(value)}</dd></div>" for what, value in told) + "</dl>"


def pair(before: Photo, after: Photo, labels: tuple[str, str]) -> str:
    """Two pictures of one size in one place, with a slider between them: keys, mouse and fingers move it."""
    label, other = map(safe, labels)
    return (
        f'<div class="pair" style="--at:50%">{_image(before)}{_image(after)}'
        f'<input type="range" min="0" max="100" value="50" aria-label="Where {label} ends and {other} begins">'
        f"<b>{label}</b><b>{other}</b></div>"
    )


def _image(photo: Photo) -> str:
    data = f"data:{photo.mime};base64,{b64encode(photo.content).decode('ascii')}"
    return f'<img src="{data}" width="{photo.wide}" height="{photo.tall}" alt="{safe(photo.alt)}">'


def charts(drawn: Iterable[tuple[str, str]]) -> str:
    """Charts, each an SVG with what it tells in words below, as many beside each other as there is room for."""
    told = (f"<figure>{svg}<figcaption>{safe(caption)}</figcaption></figure>" for svg, caption in drawn)
    return '<div class="charts">' + "".join(told) + "</div>"


def table(caption: str, head: Sequence[str], rows: Iterable[Sequence[str | int | float]]) -> str:
    """A table; numbers stand to the right. On a narrow screen it scrolls by itself."""
    cells = [[_cell(value) for value in row] for row in rows]
    classes = [' class="number"' if cells and cells[0][n][1] else "" for n in range(len(head))]
    heads = "".join(f'<th scope="col"{kind}>{safe(each)}</th>' for each, kind in zip(head, classes, strict=True))
    body = "".join(
        "<tr>" + "".join(f"<td{kind}>{text}</td>" for (text, _), kind in zip(row, classes, strict=True)) + "</tr>"
        for row in cells
    )
    return (
        f'<div class="scroll" tabindex="0" role="region" aria-label="{safe(caption)}"><table><caption>{safe(caption)}'
        f"</caption><thead><tr>{heads}</tr></thead><tbody>{body}</tbody></table></div>"
    )


def _cell(value: str | int | float) -> tuple[str, bool]:
    """What stands in a cell, and whether it is a number."""
    if isinstance(value, str):
        return safe(value), False
    return (f"{value:.3g}" if isinstance(value, float) else str(value)), True


def names(heading: str, all_of_them: Sequence[str], most: int = 200) -> str:
    """Many names that open by a click, the rest counted."""
    more = f" and {len(all_of_them) - most} more" if len(all_of_them) > most else ""
    told = ", ".join(all_of_them[:most]) + more
    return f"<details><summary>{safe(heading)}</summary><p>{safe(told)}</p></details>"


def safe(text: str) -> str:
    """Words that are words in HTML, between tags and in quotes; it knows no control characters."""
    return escape("".join(letter if letter.isprintable() else "\ufffd" for letter in text))
