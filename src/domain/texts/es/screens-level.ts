import type { levelPart as english } from '../en/screens-level.js';

export const levelPart: Record<keyof typeof english, string> = {
  'level.watch': 'Al llenar: ver el nivel',
  'level.watch_for': 'Al llenar, unos {pumpMinutes} de bomba: ver el nivel',
  'level.now': '{levelMm}, {litres}',
  'level.at': 'a las {atMs:time}',
  'level.next': 'La palabra del sensor llega hacia las {nextMs:time}.',
  'level.never': 'El sensor aún no ha hablado.',
  'level.hurry': 'Pedirle que informe ya',
  'level.watching': 'se le pidió informar deprisa hasta las {untilMs:time}',
  'level.no_node': 'No hay ningún nodo en esta maceta.',
  'level.no_signal': 'Sin cobertura: la palabra del sensor llega después, por sí sola.',
  'level.risen': 'Ha subido {risenMm}: {risenLitres} de {plannedLitres}.',
  'level.not_rising': 'El nivel no sube. ¿Está la manguera en el tubo de llenado de esta maceta y la bomba en marcha?',
};
