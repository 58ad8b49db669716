"""The words by which file names tell what a picture is for, in the languages that artists name files in.

Words count whole: in "industrial" there is no dust, in "stainless" no stain. What is written as one counts where all of
it is known: "microscratches", "dustmap", "Staubkratzer". Common practice, no published source.
"""

import re
import unicodedata
from collections.abc import Iterable, Mapping

from ..remembered import keeping

SCRATCHES = (
    "scratched", "scratching", "scratchy", "scuffed", "scraped",
    "Kratzer", "Kratzspur", "Kratzspuren", "Schramme", "Schrammen", "zerkratzt", "verkratzt",
    "rayure", "éraflure", "égratignure",
    "rasguño", "arañazo",
    "graffio", "graffi", "graffiato",
    "risco", "arranhão", "arranhões",
    "kras", "krassen", "repa", "repor", "riper", "ridse", "ridser", "naarmu", "naarmut",
    "rysa", "rysy", "zadrapanie", "zadrapania", "škrábanec", "škrábance", "çizik", "çizikler",
    "царапина", "царапины", "подряпина", "подряпини",
    "スクラッチ", "引っかき傷", "擦り傷", "キズ", "划痕", "刮痕", "刮傷", "刮伤", "스크래치", "긁힘", "흠집",
)  # fmt: skip
SMUDGES = (
    "smudged", "smudgy", "smeared", "fingerprint", "fingermark", "thumbprint", "palmprint", "handprint", "greasy",
    "wiped",
    "Fingerabdruck", "Fingerabdrücke", "Schmierer", "Schliere", "Schlieren", "Fleck", "Flecken", "Fettfleck", "fettig",
    "empreinte", "doigt", "tache", "graisse", "bavure",
    "huella", "dedo", "mancha", "grasa",
    "impronta", "impronte", "ditata", "ditate", "macchia", "macchie",
    "dedada", "gordura",
    "vingerafdruk", "vingerafdrukken", "veeg", "vlek", "vlekken",
    "fingeravtryck", "fingeravtrykk", "fingeraftryk", "sormenjälki", "sormenjäljet",
    "odcisk", "odciski", "smuga", "smugi", "plama", "plamy", "otisk", "otisky", "šmouha", "šmouhy", "parmakizi",
    "отпечаток", "отпечатки", "пятно", "пятна", "відбиток", "відбитки",
    "指紋", "手垢", "指纹", "油污", "污渍", "污漬", "지문", "얼룩",
)  # fmt: skip
DUST = (
    "dusty", "speckle",
    "Staub", "staubig", "verstaubt", "Fussel", "Fusseln", "Flusen",
    "poussière", "poussiéreux", "polvo", "polvoriento", "polvere", "polveroso", "poeira",
    "stof", "stoffig", "damm", "dammig", "støv", "støvet", "pöly", "pył", "prach", "toz", "tozlu",
    "пыль", "пилюка",
    "ほこり", "埃", "ホコリ", "灰尘", "灰塵", "먼지",
)  # fmt: skip

# Words that stand with those in one, and tell nothing themselves.
_BESIDE = (
    "alpha", "and", "big", "bit", "black", "bump", "clean", "coarse", "dark", "deep", "desk", "detail", "dirt",
    "disp", "film", "fine", "floor", "glass", "gray", "grey", "grunge", "heavy", "height", "house", "image", "img",
    "k", "large", "layer", "lens", "light", "long", "macro", "map", "maps", "mark", "marks", "mask", "metal",
    "micro", "oil", "old", "overlay", "paint", "pattern", "plastic", "px", "roughness", "seamless", "skin", "small",
    "soft", "spur", "spuren", "steel", "surface", "table", "tex", "textur", "texture", "textures", "thin", "tile",
    "tileable", "v", "white", "wood",
)  # fmt: skip
_UNSPACED = ("CJK", "HIRAGANA", "KATAKANA", "HANGUL")  # scripts that put no spaces between words
_UNPARTED = str.maketrans("łøđıŁØĐ", "lodiLOD")  # letters that Unicode does not take apart
_HUMP = re.compile(r"(?<=[a-z])(?=[A-Z])|(?<=[A-Z])(?=[A-Z][a-z])")


def told(name: str, words: Mapping[str, Iterable[str]]) -> str | None:
    """The kind that a name tells of, by the words of each kind; None where no word tells.

    The last telling word wins: in "fingerprint_scratches" the noun stands last.
    """
    kinds = _known(tuple((kind, tuple(each)) for kind, each in words.items()))
    found = [kind for run in _runs(name) for kind in _in_one(run, kinds) if kind]
    return found[-1] if found else None


@keeping(1, of_session=True)
def _known(words: tuple[tuple[str, tuple[str, ...]], ...]) -> dict[str, str]:
    """The kind of every word and of its plural, "" of those that tell nothing; long ones first."""
    told = {_apart(word).casefold() + end: kind for kind, each in words for word in each for end in ("", "s", "es")}
    return dict(sorted((dict.fromkeys(_BESIDE, "") | told).items(), key=lambda entry: -len(entry[0])))


def _runs(name: str) -> list[str]:
    """What of a name is written as one, without case: letters up to what is none, or to a hump."""
    return [run.casefold() for run in re.findall(r"[^\W\d_]+", _HUMP.sub(" ", _apart(name)))]


def _apart(text: str) -> str:
    """A text without what stands above or below its letters, which systems keep in several ways."""
    apart = unicodedata.normalize("NFKD", text)
    return "".join(letter for letter in apart if not unicodedata.combining(letter)).translate(_UNPARTED)


def _in_one(run: str, kinds: Mapping[str, str]) -> list[str]:
    """The kinds that what is written as one tells of, in their order; none where not all of it is known."""
    if unicodedata.name(run[0], "").startswith(_UNSPACED):
        return [kinds[word] for word in sorted((word for word in kinds if word in run), key=run.rfind)]
    ways: dict[int, list[str]] = {0: []}  # the kinds on the way to each place up to which all is known
    for at in range(len(run)):
        for word in kinds if at in ways else ():
            if run.startswith(word, at):
                ways.setdefault(at + len(word), [*ways[at], kinds[word]])
    return ways.get(len(run), [])
