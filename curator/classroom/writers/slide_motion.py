"""What moves in slides: a picture that leaves by itself after its seconds, a cover that a click takes away.

Plain PresentationML (ISO/IEC 29500-1, 19.5): an advance time on the transition, an exit effect ("disappear") on click.
"""

from __future__ import annotations

from typing import Any

_TRANSITION = '<p:transition {ns} spd="fast" advTm="{ms}"/>'
_TIMING = """
<p:timing {ns}><p:tnLst><p:par><p:cTn id="1" dur="indefinite" restart="never" nodeType="tmRoot"><p:childTnLst>
<p:seq concurrent="1" nextAc="seek"><p:cTn id="2" dur="indefinite" nodeType="mainSeq"><p:childTnLst>
<p:par><p:cTn id="3" fill="hold"><p:stCondLst><p:cond delay="indefinite"/></p:stCondLst><p:childTnLst>
<p:par><p:cTn id="4" fill="hold"><p:stCondLst><p:cond delay="0"/></p:stCondLst><p:childTnLst>
<p:par><p:cTn id="5" presetID="1" presetClass="exit" presetSubtype="0" fill="hold" nodeType="clickEffect">
<p:stCondLst><p:cond delay="0"/></p:stCondLst><p:childTnLst>
<p:set><p:cBhvr><p:cTn id="6" dur="1" fill="hold"><p:stCondLst><p:cond delay="0"/></p:stCondLst></p:cTn>
<p:tgtEl><p:spTgt spid="{shape}"/></p:tgtEl>
<p:attrNameLst><p:attrName>style.visibility</p:attrName></p:attrNameLst></p:cBhvr>
<p:to><p:strVal val="hidden"/></p:to></p:set>
</p:childTnLst></p:cTn></p:par></p:childTnLst></p:cTn></p:par></p:childTnLst></p:cTn></p:par></p:childTnLst></p:cTn>
<p:prevCondLst><p:cond evt="onPrev" delay="0"><p:tgtEl><p:sldTgt/></p:tgtEl></p:cond></p:prevCondLst>
<p:nextCondLst><p:cond evt="onNext" delay="0"><p:tgtEl><p:sldTgt/></p:tgtEl></p:cond></p:nextCondLst>
</p:seq></p:childTnLst></p:cTn></p:par></p:tnLst></p:timing>
"""


def leaves_after(slide: Any, seconds: float) -> None:
    """The slide goes on by itself after so many seconds, or at a click before."""
    _put(slide, _TRANSITION, ms=str(round(1000 * seconds)))


def click_takes_away(slide: Any, shape: Any) -> None:
    """The next click takes the shape away."""
    _put(slide, "".join(line.strip() for line in _TIMING.splitlines()), shape=str(shape.shape_id))


def _put(slide: Any, pattern: str, **values: str) -> None:
    """Behind the slide's colour map, before extensions: the order that the schema asks for."""
    from pptx.oxml import parse_xml
    from pptx.oxml.ns import nsdecls

    element = parse_xml(pattern.format(ns=nsdecls("p"), **values))
    after = slide._element.find("{http://schemas.openxmlformats.org/presentationml/2006/main}clrMapOvr")
    last = after if after is not None else slide._element.cSld
    following = last.getnext()
    if element.tag.endswith("timing") and following is not None and following.tag.endswith("transition"):
        last = following
    last.addnext(element)
