"""What is a plan worth that is made anew every week, when the truth is known? Simulated shops.

Each shop has lives, prices and a record of its own. For a year it plans every Monday with the
posterior of the day and the builds of the next four weeks, and swaps as planned. The same heads
and builds are run with fixed ages: at the rating between builds, and the best of many fixed
policies, found with the truth and with hindsight of that very year. What is counted is swaps,
the true chance of every failure at its price (not whether it struck), and what is left in the
heads at the end; luck with the heads that were put in is taken out by what their ages are truly
worth (a martingale, so that the mean stays as it is). Spares are always there. Run
`python -m studies.planning --shops 100`.

No head runs past its swap age, as the product's own plan keeps to it: the rating, and once a
quarter the step past it that the posterior of that day advises (`decisions.policy.steps`). With
`--at-rating` it stays the rating.

Measured over 100 shops (`--shops 10`, seeds 1 to 10): in all 4.2 % above the best fixed policy in
hindsight (wanted: 4 %), 8 % below swapping at the rating on average, not above it in 97 shops
(wanted: 95; 0.5 % at worst), 312 failed quality-critical builds against 329 at the rating. Tried
and not taken: no swap age at all is 1.9 % above the best, but above the rating in 10 shops, by up
to 3.7 %; steps of 0.4 instead of 0.25 ratings are 3.6 % above the best and as often not above the
rating, but where a head in ten is weak 7 to 9 % of shops then go over a tenth dearer instead of 5
to 8 % (`studies.steps`, seeds 3 and 11).
"""
