"""What is a plan worth that is made anew every week, when the truth is known? Simulated shops.

Each shop has lives, prices and a record of its own. For a year it plans every Monday with the
posterior of the day and the builds of the next four weeks, and swaps as planned. The same heads
and builds are run with fixed ages: at the rating between builds, and the best of many fixed
policies, found with the truth and with hindsight of that very year. What is counted is swaps,
the true chance of every failure at its price (not whether it struck), and what is left in the
heads at the end; luck with the heads that were put in is taken out by what their ages are truly
worth (a martingale, so that the mean stays as it is). Spares are always there. Run
`python -m studies.planning --shops 100`.
"""
