"""Are the answers right in shops that change, and that look every quarter? Simulated shops.

On clean records of an unchanging shop the statistics hold (`studies.coverage`,
`studies.calibration`). Here shops look twenty times, buy another lot, pull heads that look worn,
have other kinds of life, change their policy and print more each year. One module for each row of
the table; each names the designs that were looked at when its numbers were chosen and keeps
others aside. Run it with

    python -m studies.changing_shops [--rows looks lots ...] [--shops 500] [--seed 1] [--held-out]

It never uses a real record.
"""
