/** The dispatcher's morning. */
export const todayScreen = {
  'today.calm': 'Nothing needs a visit today.',
  'today.need':
    '{pots#pot needs|pots need} a visit today, at {stops#site|sites}: {litres} to carry and about {work} on site.',
  'today.not_planned': '{stops#stop is|stops are} on nobody’s round yet.',
  'today.all_planned': 'All of it is on somebody’s round.',
  'today.alarms': '{alarms#alarm stands|alarms stand}, {unacknowledged} of them unacknowledged.',
  'today.no_alarms': 'No alarm stands.',
  'today.unknown': 'Of {pots#pot|pots} nobody can say how they stand.',
  'today.wait': '{pots#pot|pots} can wait.',
  'today.overnight_quiet': 'Nothing changed since {sinceMs:time}.',
  'today.overnight_title': 'Since {sinceMs:time}',
  'today.overnight_more': '{changes#more change|more changes}',

  'today.rounds_title': 'Rounds',
  'today.round_load': '{stops#stop|stops}, {litres}, {work}',
  'today.round_empty': 'nothing yet',

  'today.stops_title': 'Stops, by when they are due',
  'today.stops_empty':
    'No stop is due. When a forecast comes near its early end, or a finding asks for hands, the stop shows up here by itself.',
  'today.axis':
    'When each pot runs dry: the bar holds 8 chances in 10, the tick is the middle. Near days are drawn wider.',
  'today.stop_sum': '{litres} · {work}',
  'today.tap': 'tap on the site',
  'today.no_tap': 'no tap: from the truck',
  'today.evidence': 'Evidence',
  'today.held': '{alarms#more is|more are} shelved, suppressed or out of service.',
  'today.fill': 'fill {litres}',
  'today.left': '{litres} left of {capacityLitres}',
  'today.left_unknown': 'level not known',
  'today.draws': 'draws {rateLitresPerDay}',
  'today.plan': 'Put on a round',
  'today.plan_for': 'Put on a round: {site}',
  'today.plan_change': 'Change',
  'today.plan_change_for': 'Change who goes: {site}',
  'today.planned': '{name}, stop {position}',
  'today.plan_whose': 'Whose round?',
  'today.plan_off': 'Take it off the round',
  'today.plan_nobody': 'There is no technician yet. An owner adds people; then a stop can be put on a round.',
  'today.did_plan': '{site} is on the round of {name}.',
  'today.did_unplan': '{site} is on nobody’s round.',
  'today.did_fail': 'That did not work: {detail}',
  'today.undo': 'Undo',

  'plot.title': 'Where the stops are',
  'plot.alt': 'Plot of {stops#stop|stops}, numbered as in the list of stops.',

  'today.waiting_title': 'Can wait',
  'today.waiting_none': 'No pot can wait.',
  'today.waiting_all': 'Show all {pots#pot|pots}',
  'today.waiting_few': 'Show the soonest only',
  'today.waiting_open': 'beyond the horizon',
  'today.unknown_title': 'Nobody knows',
  'today.unknown_none': 'Every pot is known.',
  'today.unknown_by': 'go and see {when}',
  'today.last_heard': 'last heard {atMs}',
  'today.never_heard': 'never heard',

  'today.no_pots_title': 'No pot yet',
  'today.no_pots':
    'Load a fleet with the import command, or add account, site and container over the API. As soon as a node reports, its pot shows up here.',
} as const;
