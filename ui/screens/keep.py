"""Keep the spring in hand, or learn which of the kept ones it is."""

import math
from collections.abc import Sequence

import streamlit as st

from mechanics.uncertainty import Quantity
from ui.charts import band_chart
from ui.collection.matching import Matches, match
from ui.collection.record import Spring
from ui.collection.store import Collection, Kept, usual_url
from ui.gate import link
from ui.metadata import without_metadata
from ui.quantities import scaled
from ui.telling import quantity, rate_unit
from ui.units import Units
from ui.words import as_told, literal

#: Springs beside which the one in hand is drawn.
NEIGHBOURS = 5


@st.cache_resource(on_release=Collection.close)
def collection() -> Collection:
    """Return the owner's collection; it is opened once."""
    return Collection(usual_url())


def keep(
    spring: Spring, units: Units, pictures: tuple[bytes | None, bytes | None] = (None, None)
) -> None:
    """Draw which spring it is likely to be, and the entries to keep it.

    Parameters
    ----------
    spring : Spring
        As measured, its name not yet the owner's.
    units : Units
        To read in.
    pictures : tuple of bytes or None
        Drawing, and photo.
    """
    kept = [one for one in collection().find() if one.spring.is_torsion == spring.is_torsion]
    if kept:
        st.subheader("Which spring is it?", anchor=False)
        _tell_matches(match(spring, {one.id: one.spring for one in kept}), kept)
        _beside(spring, kept, units)
    st.subheader("Keep it", anchor=False)
    with st.form("keep", border=False):
        name = st.text_input("Name", placeholder="such as: buggy front, soft")
        place = st.text_input("Where it is stored", placeholder="such as: drawer 3")
        tags = st.text_input("Tags, with commas between")
        notes = st.text_area("Notes", height=68)
        pressed = st.form_submit_button("Keep it in the collection", width="stretch")
    if not pressed:
        return
    try:
        named = replaced(spring, name, place, tags, notes)
    except ValueError as problem:
        st.error(as_told(str(problem)))
        return
    drawing, photo = pictures
    key = collection().keep(named, drawing, None if photo is None else without_metadata(photo))
    st.success(f"Kept: [{literal(named.name)}]({link(by='Collection', spring=key)})")


def replaced(spring: Spring, name: str, place: str, tags: str, notes: str) -> Spring:
    """Return a spring with the owner's words, as they were typed."""
    plain_fields = spring.as_dict() | {
        "name": name.strip(),
        "place": place.strip(),
        "tags": [tag.strip() for tag in tags.split(",") if tag.strip()],
        "notes": notes.strip(),
    }
    return Spring.from_dict(plain_fields)


def chance_text(chance: float) -> str:
    """Return a chance in percent; nothing is told as certain.

    Examples
    --------
    >>> chance_text(0.9998), chance_text(0.314), chance_text(0.0001)
    ('over 99 %', '31 %', 'under 1 %')
    """
    if chance > 0.99:
        return "over 99 %"
    return "under 1 %" if chance < 0.01 else f"{100.0 * chance:.0f} %"


def rates_beside(first: Spring | None, kept: Sequence[Kept]) -> dict[str, Quantity]:
    """Return rates by name, the one in hand first; equal names are numbered.

    All of them are of one kind: those of torsion springs with the first, else those without.
    """
    turning = first is not None and first.is_torsion
    springs = [one.spring for one in kept if one.spring.is_torsion == turning]
    if first is not None:
        near = sorted(springs, key=lambda s: abs(math.log(s.rate / first.rate)))
        springs = [first, *sorted(near[:NEIGHBOURS], key=lambda s: s.rate)]
    out: dict[str, Quantity] = {}
    for spring in springs:
        name, count = spring.name, 2
        while name in out:
            name, count = f"{spring.name} ({count})", count + 1
        out[name] = quantity(spring, spring.names[4])
    return out


def _beside(spring: Spring, kept: Sequence[Kept], units: Units) -> None:
    rates = rates_beside(spring, kept)
    theme = st.context.theme.type or "light"
    unit, size = rate_unit(spring, units)
    st.altair_chart(
        band_chart({name: scaled(q, 1.0 / size) for name, q in rates.items()}, unit, theme),
        alt="Rates of this spring and of the kept ones nearest to it: " + ", ".join(rates),
    )


def _tell_matches(found: Matches, kept: Sequence[Kept]) -> None:
    names = {one.id: one.spring for one in kept}
    lines = []
    for one in found.matches[:3]:
        links = [f"[{literal(names[k].name)}]({link(by='Collection', spring=k)})" for k in one.keys]
        where = ", ".join(sorted({literal(names[k].place) for k in one.keys} - {""}))
        alike = ", which this measurement cannot tell apart" if len(links) > 1 else ""
        told = f"- **{chance_text(one.chance)}** {' or '.join(links)}{alike}"
        lines.append(f"{told} ({where})" if where else told)
    lines.append(f"- **{chance_text(found.none_of_these)}** none of the {len(kept)} kept springs")
    st.markdown("\n".join(lines))
