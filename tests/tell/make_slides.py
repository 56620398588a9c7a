"""Make the two presentations that every deck starts from: 16:9, one master, a layout for each kind of slide.

    python -m tests.tell.make_slides          writes reach/data/slides_light.pptx and slides_dark.pptx and names their hashes

Written as packages of XML parts (ECMA-376, Office Open XML: PresentationML and DrawingML), because the template that
python-pptx brings is 4:3 with eleven layouts of its own. Colours come from `draw.style`, places and sizes from
`tell.deck.model`; run it again after changing either, and put the new hashes into SOURCES.md. Text is in Calibri, or in
Carlito, which has the same widths.
"""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Final
from xml.sax.saxutils import escape

import reach
from reach.draw import style
from reach.draw.style import Theme
from reach.tell.deck import model
from reach.tell.deck.editable import FIRST_EXHIBIT, FOOT, NO_STYLE, NUMBER, emu, template_file, zipped
from reach.tell.deck.model import Box

FACE: Final = "Calibri"
_MAIN: Final = "http://schemas.openxmlformats.org/drawingml/2006/main"
_REL: Final = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_PRES: Final = "http://schemas.openxmlformats.org/presentationml/2006/main"
_NAMES: Final = f'xmlns:a="{_MAIN}" xmlns:r="{_REL}" xmlns:p="{_PRES}"'
_PACKAGE: Final = "http://schemas.openxmlformats.org/package/2006"
_TYPE: Final = "application/vnd.openxmlformats-officedocument"
_HEAD: Final = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'

# The layouts of the presentation: a kind of slide with what kinds of exhibit, named as `model.template_name` does.
KINDS: Final = (
    ("opening", ()), ("over", ("table",)), ("beside", ("picture",)), ("beside", ("table",)), ("wide", ("chart",)),
    ("pair", ("picture", "chart")), ("quarters", ()), ("text", ()),
)  # fmt: skip

# Parts with nothing in them, without which one office program offers to repair the file.
_EMPTY: Final = {
    "presProps": f"<p:presentationPr {_NAMES}/>",
    "viewProps": f"<p:viewPr {_NAMES}/>",
    "tableStyles": f'<a:tblStyleLst xmlns:a="{_MAIN}" def="{NO_STYLE}"/>',
}


def package(look: Theme) -> bytes:
    """The empty presentation as the bytes of a .pptx."""
    kinds = KINDS
    parts = {
        "[Content_Types].xml": _content_types(len(kinds)),
        "_rels/.rels": _relations([("officeDocument", "ppt/presentation.xml")]),
        "ppt/presentation.xml": _presentation(),
        "ppt/_rels/presentation.xml.rels": _relations(
            [
                ("slideMaster", "slideMasters/slideMaster1.xml"),
                ("theme", "theme/theme1.xml"),
                *((name, f"{name}.xml") for name in _EMPTY),
            ]
        ),
        **{f"ppt/{name}.xml": text for name, text in _EMPTY.items()},
        "ppt/theme/theme1.xml": _theme(look),
        "ppt/slideMasters/slideMaster1.xml": _master(len(kinds)),
        "ppt/slideMasters/_rels/slideMaster1.xml.rels": _relations(
            [("slideLayout", f"../slideLayouts/slideLayout{k + 1}.xml") for k in range(len(kinds))]
            + [("theme", "../theme/theme1.xml")]
        ),
    }
    for k, kind in enumerate(kinds):
        parts[f"ppt/slideLayouts/slideLayout{k + 1}.xml"] = _slide_layout(*kind)
        parts[f"ppt/slideLayouts/_rels/slideLayout{k + 1}.xml.rels"] = _relations(
            [("slideMaster", "../slideMasters/slideMaster1.xml")]
        )
    return zipped({name: (_HEAD + text).encode() for name, text in parts.items()})


def _content_types(layouts: int) -> str:
    overrides = [
        ("presentation", "presentationml.presentation.main"),
        ("slideMasters/slideMaster1", "presentationml.slideMaster"),
        ("theme/theme1", "theme"),
        *((name, f"presentationml.{name}") for name in _EMPTY),
        *((f"slideLayouts/slideLayout{k + 1}", "presentationml.slideLayout") for k in range(layouts)),
    ]
    each = "".join(
        f'<Override PartName="/ppt/{part}.xml" ContentType="{_TYPE}.{kind}+xml"/>' for part, kind in overrides
    )
    return (
        f'<Types xmlns="{_PACKAGE}/content-types">'
        '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        f'<Default Extension="xml" ContentType="application/xml"/>{each}</Types>'
    )


def _relations(targets: list[tuple[str, str]]) -> str:
    each = "".join(
        f'<Relationship Id="rId{k + 1}" Type="{_REL}/{kind}" Target="{target}"/>'
        for k, (kind, target) in enumerate(targets)
    )
    return f'<Relationships xmlns="{_PACKAGE}/relationships">{each}</Relationships>'


def _presentation() -> str:
    width, height = emu(model.WIDTH_PX), emu(model.HEIGHT_PX)
    return (
        f'<p:presentation {_NAMES} saveSubsetFonts="1">'
        '<p:sldMasterIdLst><p:sldMasterId id="2147483648" r:id="rId1"/></p:sldMasterIdLst>'
        f'<p:sldSz cx="{width}" cy="{height}"/><p:notesSz cx="6858000" cy="9144000"/>'
        f"</p:presentation>"
    )


# --- theme ------------------------------------------------------------------------------------------------------------


def _theme(look: Theme) -> str:
    accents = (*look.setups[:4], look.plain, look.ring)
    named = {"dk1": look.ink, "lt1": look.paper, "dk2": look.muted, "lt2": look.land}
    named |= {f"accent{k + 1}": color for k, color in enumerate(accents)}
    named |= {"hlink": look.setups[0], "folHlink": look.muted}
    colors = "".join(f'<a:{name}><a:srgbClr val="{_rgb(color)}"/></a:{name}>' for name, color in named.items())
    face = f'<a:latin typeface="{FACE}"/><a:ea typeface=""/><a:cs typeface=""/>'
    fill = '<a:solidFill><a:schemeClr val="phClr"/></a:solidFill>'
    line = f'<a:ln w="9525">{fill}</a:ln>'
    effect = "<a:effectStyle><a:effectLst/></a:effectStyle>"
    return (
        f'<a:theme xmlns:a="{_MAIN}" name="reach {escape(look.name)}"><a:themeElements>'
        f'<a:clrScheme name="reach {escape(look.name)}">{colors}</a:clrScheme>'
        f'<a:fontScheme name="reach"><a:majorFont>{face}</a:majorFont><a:minorFont>{face}</a:minorFont></a:fontScheme>'
        f'<a:fmtScheme name="reach"><a:fillStyleLst>{fill * 3}</a:fillStyleLst><a:lnStyleLst>{line * 3}</a:lnStyleLst>'
        f"<a:effectStyleLst>{effect * 3}</a:effectStyleLst><a:bgFillStyleLst>{fill * 3}</a:bgFillStyleLst></a:fmtScheme>"
        "</a:themeElements><a:objectDefaults/><a:extraClrSchemeLst/></a:theme>"
    )


def _rgb(color: str) -> str:
    return color.lstrip("#").upper()


# --- master and layouts -----------------------------------------------------------------------------------------------


def _master(layouts: int) -> str:
    shapes = (
        _placeholder(2, "Title", 'type="title"', model.LAYOUTS["text"].title, "Title", anchor="t")
        + _placeholder(3, "Text", 'type="body" idx="1"', model.LAYOUTS["text"].texts[0], "Text")
        + _placeholder(4, "Foot", 'type="ftr" sz="quarter" idx="3"', model.FOOT, "", style=_small("l"), anchor="ctr")
        + _placeholder(
            5, "Number", 'type="sldNum" sz="quarter" idx="4"', model.NUMBER, None, style=_small("r"), anchor="ctr"
        )
    )
    ids = "".join(f'<p:sldLayoutId id="{2147483649 + k}" r:id="rId{k + 1}"/>' for k in range(layouts))
    accents = " ".join(f'accent{k}="accent{k}"' for k in range(1, 7))
    return (
        f'<p:sldMaster {_NAMES}><p:cSld><p:bg><p:bgRef idx="1001"><a:schemeClr val="bg1"/></p:bgRef></p:bg>'
        f"{_tree(shapes)}</p:cSld>"
        f'<p:clrMap bg1="lt1" tx1="dk1" bg2="lt2" tx2="dk2" {accents} hlink="hlink" folHlink="folHlink"/>'
        f"<p:sldLayoutIdLst>{ids}</p:sldLayoutIdLst>"
        f"<p:txStyles><p:titleStyle>{_level(1, model.TITLE_SIZES[0], 'tx1', bold=True, spacing=94)}</p:titleStyle>"
        f"<p:bodyStyle>{_levels(model.TEXT_SIZES[0])}</p:bodyStyle>"
        f"<p:otherStyle>{_level(1, 36, 'tx1')}</p:otherStyle></p:txStyles></p:sldMaster>"
    )


# What a place for an exhibit is in the file, and what it says while it is empty.
_HOLDS: Final = {"table": ("tbl", "Table"), "chart": ("chart", "Chart"), "picture": ("pic", "Map")}


def _slide_layout(kind: str, exhibits: tuple[str, ...]) -> str:
    place = model.LAYOUTS[kind]
    shapes = _placeholder(
        2, "Title", 'type="title"', place.title, "Title", anchor="b" if place.big else "t",
        style=_level(1, model.BIG_TITLE_SIZES[0], "tx1", bold=True, spacing=94) if place.big else "",
    )  # fmt: skip
    own = _levels(place.text_px) if place.text_px != model.TEXT_SIZES[0] else ""
    after = 3
    for k, box in enumerate(place.texts):
        shapes += _placeholder(after, f"Text {k + 1}", f'type="body" idx="{k + 1}"', box, "Text", style=own)
        after += 1
    for k, (name, box) in enumerate(zip(exhibits, place.exhibits, strict=True)):
        holds, prompt = _HOLDS[name]
        shapes += _placeholder(after, prompt, f'type="{holds}" idx="{FIRST_EXHIBIT + k}"', box, prompt)
        after += 1
    shapes += _placeholder(after, "Foot", f'type="ftr" sz="quarter" idx="{FOOT}"', model.FOOT, "")
    shapes += _placeholder(after + 1, "Number", f'type="sldNum" sz="quarter" idx="{NUMBER}"', model.NUMBER, None)
    if place.big:
        shapes += _rings(after + 2)
    return (
        f'<p:sldLayout {_NAMES} preserve="1" userDrawn="1"><p:cSld name="{model.template_name(kind, exhibits)}">'
        f"{_tree(shapes)}</p:cSld><p:clrMapOvr><a:masterClrMapping/></p:clrMapOvr></p:sldLayout>"
    )


def _tree(shapes: str) -> str:
    return (
        '<p:spTree><p:nvGrpSpPr><p:cNvPr id="1" name=""/><p:cNvGrpSpPr/><p:nvPr/></p:nvGrpSpPr><p:grpSpPr><a:xfrm>'
        '<a:off x="0" y="0"/><a:ext cx="0" cy="0"/><a:chOff x="0" y="0"/><a:chExt cx="0" cy="0"/></a:xfrm></p:grpSpPr>'
        f"{shapes}</p:spTree>"
    )


def _placeholder(
    number: int, name: str, kind: str, box: Box, prompt: str | None, *, style: str = "", anchor: str = "t"
) -> str:
    """One placeholder. prompt : what it shows while empty; None: the number of the slide."""
    field = "{B6F15528-21DE-4FAA-801E-634DDDAF4B2B}"
    if prompt is None:
        text = f'<a:fld id="{field}" type="slidenum"><a:rPr lang="en-GB"/><a:t>#</a:t></a:fld>'
    else:
        text = f'<a:r><a:rPr lang="en-GB"/><a:t>{escape(prompt)}</a:t></a:r>' if prompt else ""
    return (
        f'<p:sp><p:nvSpPr><p:cNvPr id="{number}" name="{name}"/><p:cNvSpPr><a:spLocks noGrp="1"/></p:cNvSpPr>'
        f"<p:nvPr><p:ph {kind}/></p:nvPr></p:nvSpPr><p:spPr>{_place(box)}</p:spPr>"
        f'<p:txBody><a:bodyPr vert="horz" wrap="square" lIns="0" tIns="0" rIns="0" bIns="0" rtlCol="0" anchor="{anchor}">'
        f"<a:normAutofit/></a:bodyPr><a:lstStyle>{style}</a:lstStyle><a:p>{text}"
        '<a:endParaRPr lang="en-GB"/></a:p></p:txBody></p:sp>'
    )


def _place(box: Box, shape: str = "rect") -> str:
    return (
        f'<a:xfrm><a:off x="{emu(box.x)}" y="{emu(box.y)}"/><a:ext cx="{emu(box.width)}" cy="{emu(box.height)}"/></a:xfrm>'
        f'<a:prstGeom prst="{shape}"><a:avLst/></a:prstGeom>'
    )


def _levels(text_px: int) -> str:
    """The levels of a text whose largest is so large [px]: said, evidence, item, small item, heading."""
    return "".join(
        _level(
            k + 1, one.size(text_px), "tx2" if one.muted else "tx1", bold=one.bold, item=one.item,
            before=model.GAP * one.size(text_px),
        )
        for k, one in enumerate(model.LEVELS)
    )  # fmt: skip


def _level(number: int, size: float, color: str, *, bold: bool = False, item: bool = False, spacing: int = 100,
           align: str = "l", before: float = 0.0) -> str:  # fmt: skip
    """Style of a level of text. size : of type [px]; before : the space above a paragraph [px]; spacing : of lines [%]."""
    indent = emu(model.INDENT * size) if item else 0
    mark = '<a:buFont typeface="Arial"/><a:buChar char="•"/>' if item else "<a:buNone/>"
    return (
        f'<a:lvl{number}pPr marL="{indent}" indent="{-indent}" algn="{align}" defTabSz="914400" rtl="0" eaLnBrk="1" '
        f'latinLnBrk="0" hangingPunct="1"><a:lnSpc><a:spcPct val="{spacing * 1000}"/></a:lnSpc>'
        f'<a:spcBef><a:spcPts val="{round(before * 50)}"/></a:spcBef>{mark}'
        f'<a:defRPr lang="en-GB" sz="{round(size * 50)}" b="{int(bold)}" kern="1200"><a:solidFill><a:schemeClr val="{color}"/>'
        '</a:solidFill><a:latin typeface="+mn-lt"/><a:ea typeface="+mn-ea"/><a:cs typeface="+mn-cs"/></a:defRPr>'
        f"</a:lvl{number}pPr>"
    )


def _small(align: str) -> str:
    return _level(1, model.FOOT_SIZE, "tx2", align=align)


def _rings(first: int) -> str:
    """Distance rings round a station beyond the lower right corner: decoration, told as such to screen readers."""
    shapes = ""
    for k, box in enumerate(model.OPENING_RINGS):
        shapes += (
            f'<p:sp><p:nvSpPr><p:cNvPr id="{first + k}" name="Ring {k + 1}"/><p:cNvSpPr/><p:nvPr userDrawn="1"/></p:nvSpPr>'
            f'<p:spPr>{_place(box, "ellipse")}<a:noFill/><a:ln w="19050"><a:solidFill><a:schemeClr val="bg2"/></a:solidFill></a:ln></p:spPr>'
            '<p:txBody><a:bodyPr/><a:lstStyle/><a:p><a:endParaRPr lang="en-GB"/></a:p></p:txBody></p:sp>'
        )
    return shapes


def main() -> None:
    """Write both files and say what belongs into SOURCES.md."""
    folder = Path(reach.__file__).parent / "data"
    for look in style.THEMES.values():
        content = package(look)
        (folder / template_file(look)).write_bytes(content)
        print(template_file(look), hashlib.sha256(content).hexdigest())


if __name__ == "__main__":
    main()
