"""A request to join as a picture (QR, ISO/IEC 18004) for a phone's camera, drawn with half blocks.

Must not know what the text means.
"""

from __future__ import annotations

BORDER = 2
# What fits a terminal of 24 lines with the sentences below; of a longer text the code alone must do.
MODULES = 33
# A light module is lit: the picture reads on a dark terminal; most cameras read it on a light one too.
_HALVES = {(1, 1): " ", (0, 1): "\u2580", (1, 0): "\u2584", (0, 0): "\u2588"}


def drawn(text: str) -> list[str]:
    """The lines of the picture, two rows of it a line; the bare text where what draws it is missing."""
    try:
        import segno
    except ImportError:
        return [text, "(Seen as a picture with: pip install 'herdsync[qr]'. The code is enough.)"]
    made = segno.make_qr(text, error="l")
    if made.symbol_size(border=0)[0] > MODULES:
        made = segno.make_qr(text.split()[-1], error="l")
    rows = [list(row) for row in made.matrix_iter(border=BORDER)]
    rows += [[0] * len(rows[0])] * (len(rows) % 2)
    return [
        "".join(_HALVES[upper, lower] for upper, lower in zip(above, below, strict=True))
        for above, below in zip(rows[::2], rows[1::2], strict=True)
    ]
