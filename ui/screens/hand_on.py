"""Hand springs on: files out and in, suppliers' tables, labels for drawers."""

import streamlit as st

from mechanics.ends import Ends
from mechanics.materials import MATERIALS
from mechanics.units import RATE_UNITS
from ui.collection.exchange import from_csv, from_json, to_csv, to_json
from ui.collection.record import NAMES, Spring
from ui.collection.store import Kept
from ui.collection.supplier import (
    FIELDS,
    Reading,
    Table,
    guess_columns,
    read_table,
    springs_of,
)
from ui.figures import band_text, value_text
from ui.labels import SIZES_MM, Label, labels_pdf
from ui.screens.keep import collection
from ui.telling import outside_of, quantity, rate_told
from ui.units import LENGTH_UNITS, Units
from ui.words import as_told

_OWN_SIZE, _LEFT_OUT = "own size", "not in the table"
#: Rows that could not be read and are named; more would bury the rest.
_MOST_NAMED = 5


def hand_on(found: list[Kept], units: Units) -> None:
    """Draw what can be done with the springs found: files, labels, and springs from files."""
    springs = [one.spring for one in found]
    st.subheader("Export and import", anchor=False)
    with st.container(horizontal=True):
        st.download_button("Export JSON", to_json(springs), "springs.json", "application/json")
        st.download_button("Export CSV", to_csv(springs), "springs.csv", "text/csv")
    if found:
        with st.expander("Labels for drawers"):
            offer_labels(found, units)
    given = st.file_uploader(
        "Springs from a JSON or CSV file, or a supplier's table",
        ["json", "csv", "tsv", "txt"],
        key="import",
    )
    if given is not None:
        _take_in(given.name, given.getvalue())


def offer_labels(found: list[Kept], units: Units) -> None:
    """Draw the choice of a label's size, and the button that makes the sheet."""
    sizes = [f"{wide:g} x {tall:g} mm" for wide, tall in SIZES_MM]
    chosen = st.selectbox("Size of a label", [*sizes, _OWN_SIZE], key="label", bind="query-params")
    if chosen == _OWN_SIZE:
        with st.container(horizontal=True):
            wide = st.number_input("Width, mm", 40.0, 190.0, 60.0, 1.0, key="label_wide")
            tall = st.number_input("Height, mm", 18.0, 120.0, 25.0, 1.0, key="label_tall")
        size = (float(wide), float(tall))
    else:
        size = SIZES_MM[sizes.index(chosen)]
    address = st.text_input(
        "Address of this page, for the code",
        (st.context.url or "http://127.0.0.1:8710").split("?")[0],
        help="The code opens the spring there. The key of the phone's address is not printed: "
        "the page asks for it.",
    )
    labels = [_label(one, units, address) for one in found]
    st.download_button(
        f"Labels of {len(labels)} springs (PDF)" if len(labels) > 1 else "Label (PDF)",
        lambda: labels_pdf(labels, size),
        "drawer-labels.pdf",
        "application/pdf",
        key="labels",
        on_click="ignore",  # a page drawn anew meanwhile could lose the file
        width="stretch",
    )


def _label(one: Kept, units: Units, address: str) -> Label:
    s = one.spring
    rate, unit = rate_told(s, units)
    wire, free = (units.length_of(quantity(s, name)) for name in (NAMES[0], NAMES[3]))
    outside = units.length_of(outside_of(s))
    # Nobody measures the length of a torsion spring's body.
    long = "" if s.is_torsion else f"length {value_text(free)} {units.length}, "
    return Label(
        s.name,
        tuple(
            filter(
                None,
                (
                    f"{value_text(rate)} {unit}",
                    f"95 % band {band_text(rate)}",
                    f"wire {value_text(wire)}, outside {value_text(outside)}",
                    f"{long}{value_text(quantity(s, NAMES[2]))} coils",
                    f"{'torsion' if s.is_torsion else s.ends}, {s.hand} hand",
                    s.place,
                ),
            )
        ),
        f"{address.rstrip('/')}/?by=Collection&spring={one.id}",
    )


def _take_in(name: str, data: bytes) -> None:
    try:
        text = data.decode("utf-8-sig")
        if name.lower().endswith(".json"):
            _offer(from_json(text))
            return
        table = read_table(text)
    except ValueError as problem:
        st.error(as_told(f"{name} was not read: {problem}"))
        return
    try:
        _offer(from_csv(text))
    except ValueError as problem:
        # Its head names our columns, so it is ours but damaged; any other is a supplier's.
        if set(NAMES) <= set(table.columns):
            st.error(as_told(f"{name} was not read: {problem}"))
            return
        _from_supplier(name, table)


def _from_supplier(name: str, table: Table) -> None:
    st.markdown(
        f"A table of {len(table.rows)} rows. Say which column holds what; what is named is read."
    )
    supplier = st.text_input("Supplier", name.rsplit(".", 1)[0], key="supplier")
    guessed = guess_columns(table.columns)
    options = [_LEFT_OUT, *table.columns]
    columns = {}
    for field, label in FIELDS.items():
        before = options.index(guessed[field]) if field in guessed else 0
        column = st.selectbox(label, options, index=before, key=f"column-{field}")
        if column != _LEFT_OUT:
            columns[field] = column
    with st.container(horizontal=True):
        length = st.selectbox("Lengths in", list(LENGTH_UNITS), key="table_length")
        rate = st.selectbox("Rates in", list(RATE_UNITS), key="table_rate")
    kinds = [str(one) for one in Ends]
    ends = st.selectbox(
        "Ends of all of them", kinds, index=kinds.index(str(Ends.CLOSED_GROUND)), key="table_ends"
    )
    metals = [material.name for material in MATERIALS]
    metal = st.selectbox(
        "Material of all of them", metals, index=metals.index("unknown steel"), key="table_material"
    )
    how = Reading(columns, supplier.strip() or "supplier", length, rate, Ends(ends), metal)
    try:
        springs, problems = springs_of(table, how)
    except ValueError as problem:
        st.error(as_told(str(problem)))
        return
    for problem_text in problems[:_MOST_NAMED]:
        st.warning(as_told(problem_text))
    if len(problems) > _MOST_NAMED:
        st.warning(f"{len(problems) - _MOST_NAMED} more rows could not be read.")
    if springs:
        _offer(springs)


def _offer(springs: list[Spring]) -> None:
    count = f"{len(springs)} spring" + ("" if len(springs) == 1 else "s")
    if st.button(f"Add {count}", key="import_now", width="stretch"):
        collection().keep_all(springs)
        st.success(f"Added {count}.")
