"""Weight, yield, cost, the buy list and the month's end, as values over a plan or over a log.

`layout_figures` defines yield and waste once; `figures` gives a plan's numbers, `order_shares` what
each part, kit and order gets and costs, `cutting_plan` the days, `buy_list` what to order, `comparison`
what the plan saves, `quoting` what a quote costs, `month` the month's balance.
"""
