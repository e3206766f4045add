"""The counter of a workshop that makes fresh tofu and sells it: log, stock, sales, closing.

The door is :class:`counter.shop.Shop`. Nothing is imported here, so that ``counter --help`` answers
at once and a trade module can be used without the books.
"""
