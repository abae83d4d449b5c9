/** Shown next to the work. Local codes and licensed practice come first in every case. */
export const cautions = {
  'caution.backflow':
    'Fit a backflow preventer to any hose on a drinking-water line, and leave an air gap when filling the truck’s tank. Local codes come first.',
  'caution.non_potable': 'Tank and reservoir water is not drinking water: keep the tank marked, and do not spray it.',
  'caution.lifting':
    'A wet pot weighs pot, soil and water together. Above about 23 kg nobody lifts alone; drain heavy pots first and move them with a mechanical aid.',
  'caution.heat_lightning':
    'Drink and rest in the shade on hot days. At thunder, go into a building or hard-topped vehicle and wait 30 minutes after the last one.',
  'caution.labels': 'Use fertiliser and cleaning agents by their labels.',
  'caution.licence': 'No entry and no electrical work beyond your licence.',
  'caution.lithium': 'Lithium cells do not go in the bin: tape the terminals and hand them in for recycling.',
  'caution.mosquito': 'Standing water breeds mosquitoes: see that the screens on fill tube and port are whole.',
  'caution.roof_load': 'Mind the load that the roof or deck may bear before adding water or pots.',
  'caution.axle_load': 'A part-filled tank surges: mind the axle load and drive accordingly.',
  'caution.watering_days': 'Check today’s local watering restrictions before filling.',
} as const;
