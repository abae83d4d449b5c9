/** Alarms and what is told about them. */
export const alarms = {
  'alarm.kind.wick_failed': 'Wick failed',
  'alarm.kind.waterlogged': 'Waterlogged',
  'alarm.kind.outage': 'Outage',
  'alarm.kind.crew_full': 'No room on the rounds',
  'alarm.place.crew': 'The crew as a whole',

  'alarm.dry.now': '{pot} is dry: the water stands at {levelMm}, no higher than the foot of the wick.',
  'alarm.dry.now_unheard': '{pot} is probably dry: its last forecast said {dryP50Ms}, and it has not been heard since.',
  'alarm.dry.decide': '{pot} may be dry as soon as {dryP10Ms}, and no round goes there before. Decide today who goes.',
  'alarm.dry.cause': 'The plants drew the reservoir down, and nobody is down to refill it in time.',
  'alarm.dry.consequence':
    'At the wick foot the reservoir gives no more. The soil holds a few days; then the plants suffer, and dried-out peat will not take water up again by itself.',
  'alarm.dry.action': 'Put the stop on a round before the earliest dry date, or send somebody now.',

  'alarm.leak.found': '{pot} loses about {sizeLitresPerDay} beyond what its plants draw, from a height of {heightMm}.',
  'alarm.leak.cause': 'A crack, a seeping joint, or a hose left in the fill tube that siphons.',
  'alarm.leak.consequence':
    'Water is paid for and lost, deck or roof gets wet, and the pot is dry earlier than its plants would make it.',
  'alarm.leak.action':
    'Look at the wall at the height named, inside and out; seal it or exchange the reservoir, fill to the overflow, then reset the alarm.',

  'alarm.overflow_blocked.found': '{pot} holds water above its overflow: the port does not let it out.',
  'alarm.overflow_blocked.cause': 'Roots, soil, a leaf or a wasp’s nest in the port, or a wall right in front of it.',
  'alarm.overflow_blocked.consequence': 'The next rain or refill stands in the soil and drowns the roots.',
  'alarm.overflow_blocked.action':
    'Clear the port and its screen, let the surplus out, see water run, then reset the alarm.',

  'alarm.wick_failed.found': '{pot} has water, but the wick does not lift it to the soil.',
  'alarm.wick_failed.cause': 'Dried-out substrate that repels water, or a void in the column.',
  'alarm.wick_failed.consequence': 'The plants dry out above a full reservoir.',
  'alarm.wick_failed.action':
    'Water from above until the whole column is wet, then watch for drawdown; repack the wick if there is none. Reset the alarm when it draws.',

  'alarm.waterlogged.found': '{pot} has soil wetter than it settles at, for too long.',
  'alarm.waterlogged.cause': 'Overfilling, long rain, or an overflow that does not run.',
  'alarm.waterlogged.consequence': 'Roots without air rot within days.',
  'alarm.waterlogged.action': 'Check the overflow first, then drain by siphon or pump and let the pot run down.',

  'alarm.node_silent.found': '{pot} has not been heard since {sinceMs}.',
  'alarm.node_silent.cause': 'A flat battery, a node out of reach, or one that was damaged or carried off.',
  'alarm.node_silent.consequence': 'Nobody knows how the pot stands; its last forecast goes on, ever wider.',
  'alarm.node_silent.action':
    'Visit before the last forecast’s earliest dry date: dip the level by hand and recover the node.',

  'alarm.outage.found': '{pots#pot|pots} at {site} fell silent together; last heard {sinceMs}.',
  'alarm.outage.cause': 'The gateway they share has no power or no network, or the site is cut off.',
  'alarm.outage.consequence': 'All pots behind it are unknown until it is back; what they stored arrives then.',
  'alarm.outage.action':
    'Call the site: ask whether power and network are on. If they are, somebody goes to the gateway.',

  'alarm.crew_full.found':
    '{pots#pot|pots} may be dry before anybody comes, the first as soon as {dryP10Ms}: no round has them in time.',
  'alarm.crew_full.cause':
    'More falls due than the crew can reach: heat, a holiday ahead, somebody ill, rounds too full.',
  'alarm.crew_full.consequence':
    'Each of them has a chance of one in ten or more to be dry before its visit. The soil holds a few days after that.',
  'alarm.crew_full.action':
    'Put those that are dry soonest first on the rounds, make today longer or send one more, or accept the risk and acknowledge.',

  'alarm.suppressed.visit': 'Somebody is working at the pot.',
  'alarm.suppressed.outage': 'Part of an outage that has its own alarm.',
  'alarm.suppressed.new_planting': 'Newly planted: its roots do not reach the wick yet.',
  'alarm.suppressed.crew_full': 'One of many pots that the crew has no room for, which are one alarm.',
  'alarm.suppressed.planned': 'A visit in time is on a round.',
  'alarm.suppressed.awaiting_proof': 'The work was done; the readings have yet to show it.',

  'performance.cure.chattering': 'Comes and goes: give it a longer off-delay or a wider deadband.',
  'performance.cure.fleeting': 'Gone before anybody can act: give it a longer on-delay.',
  'performance.cure.stale':
    'Stands for more than a day: do what it asks for, shelve it with a reason, or lower what it is worth.',
  'performance.cure.frequent': 'Comes more often than others: look for one cause behind its many times.',

  'alert.stop': '{site}: {pots#pot|pots} to see to by {dueByMs}, {litres} of water.',
  'alert.stop_without_water': '{site}: {pots#pot|pots} to see to by {dueByMs}.',
  'alert.task.refill': '{pot}: refill {litres} by {dueByMs}',
  'alert.task.rewet_from_above': '{pot}: re-wet from above by {dueByMs}',
  'alert.task.find_leak': '{pot}: find the leak by {dueByMs}',
  'alert.task.clear_overflow': '{pot}: clear the overflow by {dueByMs}',
  'alert.task.retest_wick': '{pot}: re-wet and retest the wick by {dueByMs}',
  'alert.task.repack_wick': '{pot}: repack the wick by {dueByMs}',
  'alert.task.drain': '{pot}: drain by {dueByMs}',
  'alert.task.check_sensor': '{pot}: check the sensor by {dueByMs}',
  'alert.task.replace_battery': '{pot}: replace the battery by {dueByMs}',
  'alert.task.recover_node': '{pot}: recover the node by {dueByMs}',
  'alert.task.feed': '{pot}: feed by {dueByMs}',
  'alert.task.flush_salts': '{pot}: flush the salts by {dueByMs}',
  'alert.task.replant': '{pot}: replant by {dueByMs}',
  'alert.task.commission': '{pot}: commission by {dueByMs}',
  'alert.task.inspect': '{pot}: look at it by {dueByMs}',
  'alert.crew_full.pot': '{pot} ({site}): as soon as {dryP10Ms}',
  'alert.escalated': 'Nobody has acknowledged this since {calledMs}, and the time to respond has passed.',
  'alert.digest':
    'This morning: {stops#stop|stops} with {needVisit#pot|pots} cannot wait, {litres} of water; {unknown#pot|pots} unknown; {alarms#alarm|alarms} not seen.',
  'alert.digest_quiet': 'This morning nothing is due before the next working day ends.',
  'alert.digest_away': 'The server was off from {fromMs} to {toMs}; what arrived meanwhile is counted in.',
} as const;
