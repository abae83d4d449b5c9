import type { commissioning as english } from '../en/commissioning.js';

export const commissioning: Record<keyof typeof english, string> = {
  'pours.too_few': 'Solo {pours#vertido|vertidos}: hacen falta al menos {leastPours}, con seis va bien.',
  'pours.too_few_below':
    'Solo {usefulPours} de {pours#vertido|vertidos} quedaron por debajo del rebosadero; hacen falta al menos {leastPours}. Vierta jarras más pequeñas.',
  'pours.not_numbers': 'Vertido {pour}: los litros y el nivel tienen que ser números.',
  'pours.nothing_added': 'El vertido {pour} no añade agua.',
  'pours.level_fell':
    'Vertido {pour}: el nivel bajó de {beforeMm} a {afterMm} aunque entró agua. Deje que se asiente y lea de nuevo.',
  'pours.miscounted':
    'Vertido {pour}: {pouredLitres} subieron el nivel {riseMm}, cuando los vertidos vecinos hacen esperar {expectedMm}. ¿Se contó dos veces o se olvidó, o el nivel no se había asentado?',
  'pours.contradicted':
    'Vertido {pour}: {totalLitres} en total a {levelMm} no encajan con los demás vertidos, que ponen ahí unos {expectedLitres}. ¿Se contó alguno dos veces o se olvidó, o el nivel no se había asentado?',
  'pours.too_close':
    'Los vertidos están demasiado juntos para conocer la forma del depósito. Repártalos desde el fondo hasta el rebosadero.',
  'pours.holds_less':
    'Los vertidos dan un depósito que contiene menos a un nivel más alto. Vierta otra vez en pasos iguales y deje que se asiente.',
  'shape.above_zero': 'Tiene que ser mayor que cero.',
  'shape.zero_or_more': 'No puede ser menor que cero.',
  'shape.overflow_above_plate': 'El rebosadero a {overflowMm} queda por encima de la placa a {plateMm}.',
  'shape.no_room': 'Las patas y la mecha no dejan sitio para el agua a {levelMm}. Revise sus medidas.',
  'wick.proved':
    'Probada: durante {days#día|días} sin agua desde arriba el sustrato se mantuvo entre {lowFraction} y {highFraction} mientras subían {drawnLitres} por la mecha.',
  'wick.disproved':
    'La mecha no alimenta: el sustrato se secó de {fromFraction} a {toFraction} con agua debajo. Riéguelo una vez desde arriba y, si no basta, vuelva a compactarla.',
  'wick.not_yet': 'Aún sin probar: de momento cuentan {days#día|días} de los cinco como mínimo.',
  'wick.lack.no_moisture_sensor': 'Sin sensor de humedad la mecha no se puede probar a distancia; mire el sustrato.',
  'wick.lack.no_level': 'No se conoce el nivel, así que nadie sabe qué sube por la mecha.',
  'wick.lack.no_water_at_the_wick': 'El agua tiene que estar por encima del pie de la mecha; llene el depósito.',
  'wick.lack.wetted_from_above': 'En los últimos días llegó agua desde arriba; solo cuentan los días secos.',
  'wick.lack.too_few_days': 'Hacen falta más días sin agua desde arriba.',
  'wick.lack.too_little_drawn':
    'Las plantas han tomado aún demasiado poco para distinguir una mecha húmeda de un sustrato lleno.',
};
