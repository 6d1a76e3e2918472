"""Netting of one item, drawn as planning grids."""

import grids
import pytest


def test_stock_and_receipts_before_anything_is_made():
    grids.check("""
        on hand 20, lead time 1 day, packs of 12
        day                   1    2    3    4
        gross_requirement    20    0   35   10
        scheduled_receipt     0   30    0    0
        net_requirement       0    0    5    3
        planned_receipt       0    0   12   12
        planned_order         0   12   12    0
        projected_on_hand     0   30    7    9
    """)


def test_what_a_whole_batch_leaves_serves_the_next_days():
    grids.check("""
        on hand 0, packs of 10
        day                   1    2    3    4    5
        gross_requirement     3    3    3    3    3
        planned_receipt      10    0    0   10    0
        projected_on_hand     7    4    1    8    5
    """)


def test_a_leftover_is_thrown_away_the_day_after_its_last():
    grids.check("""
        on hand 0, packs of 10, keeps 1 day
        day                   1    2    3    4    5
        gross_requirement     3    3    3    3    3
        planned_receipt      10    0   10    0   10
        expired               0    0    4    0    4
        projected_on_hand     7    4    7    4    7
    """)


def test_what_keeps_no_day_is_made_every_day():
    grids.check("""
        on hand 0, packs of 10, keeps 0 days
        day                   1    2    3
        gross_requirement     3    3    3
        planned_receipt      10   10   10
        expired               0    7    7
        projected_on_hand     7    7    7
    """)


def test_batches_of_any_size_are_made_to_measure():
    grids.check("""
        on hand 4, lead time 1 day
        day                   1    2    3    4
        gross_requirement     3  2.5    0  1.2
        planned_receipt       0  1.5    0  1.2
        planned_order       1.5    0  1.2    0
        projected_on_hand     1    0    0    0
    """)


def test_stock_is_not_used_past_its_last_day():
    grids.check("""
        on hand 20, packs of 5, use by 2
        day                   1    2    3    4
        gross_requirement     6    6    6    6
        expired               0    0    8    0
        planned_receipt       0    0   10    5
        projected_on_hand    14    8    4    3
    """)


def test_more_than_a_day_can_make_is_made_the_days_before():
    grids.check("""
        on hand 0, largest 10
        day                   1    2    3    4
        gross_requirement     4    8   15    9
        planned_receipt       7   10   10    9
        projected_on_hand     3    5    0    0
        short                 0    0    0    0
    """)


def test_what_is_made_ahead_must_keep_that_long():
    grids.check("""
        on hand 0, largest 10, keeps 1 day
        day                   1    2    3    4
        gross_requirement     0    0    8   15
        planned_receipt       0    3   10   10
        projected_on_hand     0    3    5    0
    """)


def test_a_batch_that_can_be_halved_is_made_by_halves():
    grids.check("""
        on hand 0, packs of 10, by halves
        day                   1    2    3    4    5
        gross_requirement     3    3    3    0   12
        planned_receipt       5    5    0    0   15
        projected_on_hand     2    4    1    1    4
    """)


def test_a_day_has_room_for_halves_too():
    grids.check("""
        on hand 0, packs of 10, by halves, largest 17
        day                   1    2    3
        gross_requirement     0    8   22
        planned_receipt       0   15   15
        projected_on_hand     0    7    0
    """)


def test_no_batch_is_smaller_than_the_smallest_and_what_is_over_serves_the_next_days():
    grids.check("""
        on hand 0, smallest 5
        day                   1    2    3    4    5
        gross_requirement     3    1    4    0    8
        planned_receipt       5    0    5    0    6
        projected_on_hand     2    1    2    2    0
    """)


def test_no_more_is_under_way_at_one_time_than_there_is_room_for():
    grids.check("""
        on hand 0, lead time 2 days, room 10
        day                   1    2    3    4    5    6
        gross_requirement     0    0    4    4    8    9
        planned_order         6    4    6    4    0    0
        planned_receipt       0    0    6    4    6    4
        projected_on_hand     0    0    2    2    0    0
        short                 0    0    0    0    0    5
    """)


def test_rounding_is_of_the_cumulative_need():
    grids.check("""
        on hand 0, packs of 0.1
        day                   1    2    3
        gross_requirement   6.3  0.7  0.3
        planned_receipt     6.3  0.7  0.3
        projected_on_hand     0    0    0
    """)


def test_a_grid_that_differs_is_shown():
    with pytest.raises(AssertionError, match=r"planned_receipt +drawn +5"):
        grids.check("""
            on hand 0
            day                   1
            gross_requirement     3
            planned_receipt       5
        """)


def test_a_grid_with_a_short_row_is_refused():
    with pytest.raises(ValueError, match="gross_requirement: 1 figures for 2 days"):
        grids.read("on hand 0\nday 1 2\ngross_requirement 3")
