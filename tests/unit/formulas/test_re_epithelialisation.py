from service.formulas.re_epithelialisation import island_closure_days


def test_without_a_gap_only_the_lag_remains():
    assert island_closure_days(0, lag_days=7, edge_speed_mm_per_day=0.16) == 7


def test_a_gap_closes_from_both_edges():
    assert island_closure_days(4, lag_days=0, edge_speed_mm_per_day=1) == 2
