// Package pick chooses the cheapest whole order for one amplifier or a
// production run: for every place one of the constructions that pass there,
// bought at the offers' price breaks, pack multiples, least quantities and
// stock, with the suppliers' carriage, a cost per distinct order line, and at
// wish a limit of distinct parts or a date. The search is exact; where it was
// stopped early the answer says so and gives its bound.
//
// # The model
//
// A Job has places, ways to fill them, parts and suppliers. Every place is
// filled by exactly one way; a way takes pieces of one or several parts and may
// fill several places. Of each part used the whole run's pieces and spares are
// bought together. What they cost is a curve over the pieces, made of all
// offers and the shelf; it is not convex, since a price break holds for the
// whole quantity. A supplier's carriage is asked once, and waived from an
// amount of goods in the supplier's own currency.
//
// Inside, a part is a good, counted in units (the greatest common divisor of
// all its uses), places that can be filled in just the same ways are one group,
// and a supplier with terms of its own is a seller, which is closed or in one of
// its bands of carriage.
//
// # The bound
//
// It is a Lagrangian one (Fisher, Management Science 27 (1981) 1, on the method
// and its step rule, from memory). Four kinds of multipliers loosen what ties
// the goods and the sellers to each other:
//
//   - a worth for each group, earned by every way that fills a place of it;
//   - a split for each good that a way takes beyond its first: the way pays it,
//     and the good earns it, so that both weigh the way by itself;
//   - a toll for each source of a seller: the good pays it for buying there, the
//     seller earns it where it is open, and so the goods share the carriage;
//   - a stake for each seller: all its prices are lowered in proportion, and an
//     order that has to come to an amount pays what those goods would have
//     earned, so that a seller short of free carriage draws goods to itself.
//
// Then, for any multipliers at all (tolls and stakes not negative),
//
//	least cost ≥ Σ worths of all places
//	           + Σ goods, least over what the good may take of (its cost with tolls and lowered prices − what it earns)
//	           + Σ sellers, least over its modes of (carriage + stake to make up − tolls)
//
// because an order pays and earns each worth, split and toll once, and the
// prices of an order that reaches its amounts were lowered by at least the
// stakes made up. Each good's least is found exactly, with its breaks, packs
// and lines, by a knapsack over its ways; under a limit of parts only that many
// goods, those of the least terms, are counted. All is in whole numbers, each
// credit rounded up and each stake to make up rounded down, so that no rounding
// can make the bound too high.
//
// # The search
//
// It is depth-first branch and bound over boxes: which modes each seller may be
// in, how many units of each good are used, how often each way is built. In a
// box the multipliers are raised by subgradient steps, what cannot be part of a
// better order is taken out by the bound with one limit changed, and the goods'
// own choices are repaired to whole orders and improved. A box in which all is
// settled but what is bought is ended by an exact search over purchases.
package pick
