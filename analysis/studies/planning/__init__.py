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

Measured over 100 shops (`--shops 10`, seeds 1 to 10): in all 4.4 % above the best fixed policy in
hindsight (wanted: 4 %), 8 % below swapping at the rating on average, not above it in 97 shops
(wanted: 95; 0.5 % at worst), 312 failed quality-critical builds against 329 at the rating. Tried
and not taken: no swap age at all is 1.9 % above the best, but above the rating in 10 shops, by up
to 3.7 %; steps from a chance of 85 % instead of 90 % save 0.3 points of it, and where a head in ten
is weak `studies.steps` then goes over 10 % dearer in more than a tenth of the shops.
"""
