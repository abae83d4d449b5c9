import type { RefusalCode } from '../../reading.js';

/** Why a record stands in quarantine, and what to do; the record's own detail says which field and value. */
export const refusals = {
  'refusal.not_senml':
    'Not a SenML pack that can be read. Mend what the sender writes; the bytes are kept as they came.',
  'refusal.unknown_node':
    'The node is not in the registry. Add it or assign it to a container, then run the record again.',
  'refusal.unknown_site': 'The site is not in the registry. Add it, then run the record again.',
  'refusal.no_quantity': 'The name does not end in a quantity that is measured here. Rename it at the sender.',
  'refusal.unknown_unit': 'The unit is missing or is not taken for this quantity. Change the unit at the sender.',
  'refusal.ratio_out_of_range':
    'A ratio must lie between 0 and 1. In SenML the unit “%” means the same ratio as “/”; send a percentage with the unit “/100”.',
  'refusal.impossible_value': 'The value cannot be true. Check sensor, wiring, unit and clock.',
  'refusal.before_first_assignment':
    'The time lies before the node was first assigned to a container. If it stood there already, move the start of the assignment, then run the record again.',
  'refusal.too_far_ahead': 'The time lies more than 10 minutes ahead. Set the clock of the sender.',
  'refusal.payload_too_large': 'The message is larger than is taken. Send the backlog in several packs.',
  'refusal.bad_row':
    'The row of the file cannot be read. Mend it and import the file again; rows already taken change nothing.',
} as const satisfies Record<`refusal.${RefusalCode}`, string>;
