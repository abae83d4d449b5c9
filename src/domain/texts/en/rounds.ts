/** Why a site is on a round, or is not yet. */
export const rounds = {
  'round.reason.locked': 'Locked to this day.',
  'round.reason.alarm': 'An alarm asks for it by {dueMs}.',
  'round.reason.client_call': 'Asked for by a person, by {dueMs}.',
  'round.reason.must':
    'Has to be seen by {lastMs:day}: waiting a day longer, the chance of a dry pot is {riskFraction}.',
  'round.reason.late': 'Past its last safe day: the chance that a pot is dry by this visit is {riskFraction}.',
  'round.reason.agreement': 'Agreed to be seen by {lastMs:day}.',
  'round.reason.carry_over': 'Was planned for {plannedMs:day} and not done.',
  'round.reason.care': 'Work that needs no water is due by {dueMs}.',
  'round.reason.top_up':
    'Could wait until {lastMs:day}; on the way it takes {extraMinutes} of driving and saves a trip then.',

  'round.not_today.planned': 'Next visit {nextMs:day}; until then the chance of a dry pot is {riskFraction}.',
  'round.not_today.later': 'No visit within this plan; by its end the chance of a dry pot is {riskFraction}.',
  'round.not_today.closed': 'Closed today; next visit {nextMs:day}.',

  'round.lock_costs': 'The lock costs {extraMinutes} of driving and {extraCost} in all.',
  'round.lock_free': 'The lock costs nothing.',

  'round.reason.frozen': 'Under way or next when the plan was made: it stays.',

  'plan.risk.already': 'May be dry already: no visit can come in time.',
  'plan.risk.nobody_works': 'Nobody works before it may be dry.',
  'plan.risk.closed': 'The site is closed until it may be dry.',
  'plan.risk.nobody_suited': 'Nobody who works by then may come here. Needed: {needs}.',
  'plan.risk.no_tank': 'Nobody who works by then has a tank, and the site has no tap.',
  'plan.risk.locked': 'A lock holds the visit to another day.',
  'plan.risk.full': 'The rounds up to then are full, or a visit costs more than the wait.',

  'plan.refused.held': 'This stop is under way or next, and can no longer move.',
  'plan.refused.no_stop': 'The draft has no stop at this site on {day}.',
  'plan.refused.no_round': '{person} has no round on {dayMs:day}: not at work, absent, or past the shift.',
  'plan.refused.no_offer': 'This person can no longer take it today. Ask for offers again.',
  'plan.refused.no_site': 'There is no such site with containers.',

  'plan.effect.too_long': '{person} would finish at {finishMs:time}, past the end of overtime.',
  'plan.effect.overtime': '{person} works {overtimeMinutes} overtime, until {finishMs:time}.',
  'plan.effect.tank_empty': '{person}’s tank is {shortLitres} short at {site}.',
  'plan.effect.not_suited': '{person} lacks what {site} needs: {needs}.',
  'plan.effect.kept_away': '{person} is kept away from {site}, or the round is pinned.',
  'plan.effect.closed': '{site} is closed that day.',
  'plan.effect.too_late': '{site} would be reached at {startMs:time}, after it closes.',
  'plan.effect.risk':
    '{pot} at {site}: seen on {visitMs:day}, safe until {lastMs:day}; chance of being dry {riskFraction}.',
  'plan.effect.risk_unvisited':
    '{pot} at {site}: no visit, safe until {lastMs:day}; chance of being dry {riskFraction}.',
  'plan.effect.wish_lock': 'The lock of {site} to {dayMs:day} is not kept.',
  'plan.effect.wish_forbid': '{person} comes to {site} against the wish.',
  'plan.effect.wish_not_before': '{site} is visited before {dayMs:day}.',
  'plan.effect.wish_pin': 'The round of {person} on {dayMs:day} is not as it was pinned.',

  'plan.assumed.terms': 'No working hours entered for {person}: Monday to Friday, 07:00 to 16:00.',
  'plan.assumed.no_trucks': 'No trucks entered: a tank of {tankLitres} for everybody.',
  'plan.assumed.no_truck_left': 'No truck for {person}: only sites with a tap.',
  'plan.assumed.no_depot': 'No depot entered: rounds begin and end in the middle of the sites.',
  'plan.assumed.no_crew': 'There are no technicians, so nobody can go.',
} as const;
