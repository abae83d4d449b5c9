import type { reviewScreen as english } from '../en/screens-review.js';

export const reviewScreen: Record<keyof typeof english, string> = {
  'review.title': 'Visitas, contador y sed',
  'review.table': 'Visitas, contador y sed, en cifras',
  'review.caption':
    'Litros por maceta y mm: lo que tomaron las plantas por cada milímetro de evapotranspiración de referencia.',
  'review.visits':
    '{visits#visita|visitas}: el equipo anotó {meterLitres} y, según sus niveles, las macetas tomaron {tookLitres}.',
  'review.cost': 'A la tarifa son {cost}; lo que se fugó y rebosó supuso {lossCost}.',
  'review.dry': 'Las macetas estuvieron secas {standHours} en total, un {shareFraction} de su tiempo.',
  'review.never_dry': 'Ninguna maceta estuvo seca.',
  'review.before': 'Las plantas tomaron {nowLitres} por maceta y día, y {beforeLitres} en el periodo anterior.',
  'review.as_weather': 'El tiempo explica la diferencia.',
  'review.more_than_weather': 'Es un {shareFraction} más de lo que explica el tiempo.',
  'review.less_than_weather': 'Es un {shareFraction} menos de lo que explica el tiempo.',
  'review.col.visits': 'Visitas',
  'review.col.per_visit': 'Por visita',
  'review.col.meter': 'Según contador',
  'review.col.took': 'Según macetas',
  'review.col.cost': 'Coste',
  'review.col.loss': 'Perdido',
  'review.col.dry': 'Horas en seco',
  'review.col.per_pot_mm': 'L por maceta y mm',
  'review.col.beyond': 'Más que el tiempo',
  'review.no_tariff': 'No hay tarifa, así que no se muestran costes.',
  'review.set_tariff': 'Poner la tarifa',
  'review.print': 'Imprimir para el cliente',
  'review.from': 'De {firm}',
  'review.printed': 'Medido por los sensores de sus macetas; litros redondeados.',
};
