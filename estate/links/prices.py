"""Rates: the user's own where listed, else `unlisted`, else the catalogue's invented ones, and marked so."""

from dataclasses import dataclass, field

from estate.catalogue.tables import Item, Rates
from estate.settings import PricesSection


@dataclass(frozen=True, slots=True)
class Rate:
    """Money per unit; `invented` rates rank and never reach a bill."""

    value: float
    invented: bool


@dataclass(frozen=True)
class PriceBook:
    """Looks rates up in the order: the user's table, the user's `unlisted` number, the catalogue."""

    prices: PricesSection
    rates: Rates
    _known: dict[tuple[str, str], Rate] = field(default_factory=dict, compare=False, repr=False)

    def rate(self, table: str, key: str) -> Rate:
        """Return the rate of `key` in one of the tables of [prices].

        `power_point` is a single number and takes an empty key.
        """
        found = self._known.get((table, key))
        if found is None:
            found = self._known[table, key] = self._looked_up(table, key)
        return found

    def _looked_up(self, table: str, key: str) -> Rate:
        own = getattr(self.prices, table)
        if isinstance(own, int | float):
            return Rate(float(own), invented=False)
        if own is not None and key in own:
            return Rate(float(own[key]), invented=False)
        if not isinstance(self.prices.unlisted, str):
            return Rate(float(self.prices.unlisted), invented=False)
        return Rate(self.rates.rate(table, key), invented=True)

    @property
    def invents(self) -> bool:
        """Whether any rate of the catalogue stands in for one that isn't listed."""
        if not isinstance(self.prices.unlisted, str):
            return False
        return any(
            self.rate(table, key).invented for table, rows in self.rates.tables.items() for key in rows
        )

    def item(self, item: Item) -> Rate:
        """Return the rate of a piece of equipment; a switch that isn't listed itself goes by its ports."""
        listed = item.id in (self.prices.equipment or {})
        if item.kind == "switch" and not listed:
            return self.rate("switch", f"{item.number('ports'):g}")
        return self.rate("equipment", item.id)
