"""Weight, yield, cost, the buy list and the month's end, as values over a plan or over a log.

`metal_split` defines yield and waste once; `figures` gives a plan's numbers, `cost_shares` what each
part, kit and order costs, `allocation` which order gets which pieces, `buy_list` what to order,
`comparison` what the plan saves, `handling` what may be lifted, `month` the month's balance.
"""
