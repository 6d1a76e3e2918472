"""The library functions behind `place`, `receive` and `count`: read, compare, book.

Everything is decided on what the ledger holds before it is opened for writing, so that refused input leaves
no trace, and decided again inside the transaction, so that another command in between cannot be overwritten.
"""

from ordering.bookkeeping.counts import count_in, count_out, expected_stock
from ordering.bookkeeping.credit_notes import CreditNote, credit
from ordering.bookkeeping.door_remarks import Invoice
from ordering.bookkeeping.goods_in import receive, receive_as_ordered, receive_out
from ordering.bookkeeping.placing import PlacingTerms, place
from ordering.bookkeeping.running_out import Ahead

__all__ = [
    "Ahead",
    "CreditNote",
    "Invoice",
    "PlacingTerms",
    "count_in",
    "count_out",
    "credit",
    "expected_stock",
    "place",
    "receive",
    "receive_as_ordered",
    "receive_out",
]
