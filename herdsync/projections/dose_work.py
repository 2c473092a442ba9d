"""The next dose of a course as due work. Its times are instants, exact across daylight saving."""

from __future__ import annotations

from collections.abc import Iterator

from msgspec import structs

from herdsync.kinds.ids import text_id
from herdsync.projections import moments, spans
from herdsync.projections.courses import NextDose, next_doses
from herdsync.projections.goat import Goat
from herdsync.projections.piece import Piece
from herdsync.projections.plan_items import Item, Met

NEXT_DOSE = Item(
    id="next-dose",
    work="Give the next dose",
    by=[Met(kind="dose")],
    says="ask the other keeper first whether it was given; never twice to catch up",
    source="the course or product as the keepers wrote it down",
    hazard=True,
)


def dose_pieces(goat: Goat) -> Iterator[Piece]:
    """The next dose of every course of an animal, as a piece of work each."""
    for coming in next_doses(goat):
        yield _piece(goat, coming)


def _piece(goat: Goat, coming: NextDose) -> Piece:
    zone = goat.look.zone
    product = coming.product
    name = goat.look.names.of(product) if product is not None else "a product not on record"
    where = {"product": text_id(product.id)} if product is not None else {}
    if coming.course is not None:
        where["course"] = text_id(coming.course.id)
    item = structs.replace(
        NEXT_DOSE, work=f"Give the next dose of {name}", by=[Met(kind="dose", where=dict(where))]
    )
    of = f" of {coming.doses}" if coming.doses else ""
    since = "" if coming.last is None else f", last given {moments.said(coming.last, zone)}"
    span = spans.of_instants(coming.early, coming.at, coming.late, None, zone)
    reason = f"dose {coming.number}{of}{since}"
    return Piece(item, f"-{coming.number}", tuple(coming.anchor.ids), span, reason)
