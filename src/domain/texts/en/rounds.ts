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

  'round.fill.must': 'Would be dry before the next visit: chance {riskFraction}.',
  'round.fill.top_up': 'Not due; {gainedDays} more of cover for {extraMinutes}.',
  'round.fill.skip': 'Holds until the next visit; {gainedDays} more of cover are not worth {extraMinutes}.',
} as const;
