"""What joins of nearest times ask of the order of rows: by group and time is enough."""

import polars as pl
from hypothesis import given
from hypothesis import strategies as st

from eventlab.analysis.found import asof

ROWS = st.lists(
    st.tuples(st.sampled_from("abc"), st.sampled_from("xy"), st.integers(0, 12)), max_size=30
)
STRATEGIES = st.sampled_from(["backward", "forward", "nearest"])


def _frame(rows: list[tuple[str, str, int]], at: str, number: str) -> pl.DataFrame:
    schema = {"site": pl.String(), "zone": pl.String(), at: pl.Int64()}
    return pl.DataFrame(rows, schema=schema, orient="row").with_row_index(number)


@given(ROWS, ROWS, STRATEGIES, st.booleans(), st.booleans())
def test_rows_in_order_inside_their_groups_join_as_rows_in_order_of_time(
    left: list[tuple[str, str, int]],
    right: list[tuple[str, str, int]],
    strategy: str,
    exact: bool,
    two: bool,
) -> None:
    by = ["site", "zone"] if two else ["site"]
    one, other = _frame(left, "at", "row"), _frame(right, "then", "hit")

    def joined(*order: str) -> pl.DataFrame:
        return (
            one.sort(*order, "at", maintain_order=True)
            .join_asof(
                other.sort(*order, "then", maintain_order=True),
                left_on="at",
                right_on="then",
                by=by,
                strategy=strategy,  # type: ignore[arg-type]  # one of three words
                allow_exact_matches=exact,
                check_sortedness=False,
            )
            .sort("row")
        )

    assert joined("site").equals(joined())


@given(ROWS, ROWS, st.booleans())
def test_many_rows_join_as_few(
    left: list[tuple[str, str, int]], right: list[tuple[str, str, int]], sort: bool
) -> None:
    # Of many rows it is looked whether they stand in order already.
    one, other = _frame(left, "at", "row"), _frame(right, "then", "row")
    other = other.unique(["site", "then"], maintain_order=True)
    if sort:
        one, other = one.sort("site", "at"), other.sort("site", "then")
    many = _frame([("d", "x", n) for n in range(1_200)], "at", "row")
    also = many.rename({"at": "then"})
    few = asof(one, other, "at", "then")
    every = asof(pl.concat([one, many]), pl.concat([other, also]), "at", "then")
    assert every.head(one.height).equals(few)
    assert every["row_right"].tail(many.height).to_list() == many["row"].to_list()
