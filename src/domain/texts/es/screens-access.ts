import type { accessPart as english } from '../en/screens-access.js';

/** Cómo se entra en un sitio, y a quién llamar allí. */
export const accessPart: Readonly<Record<keyof typeof english, string>> = {
  'access.title': 'Cómo entrar',
  'access.show': 'Ver cómo entrar',
  'access.show_for': 'Ver cómo entrar: {site}',
  'access.recorded': 'Cada consulta queda registrada.',
  'access.none': 'No hay nada anotado sobre cómo entrar.',
  'access.call': 'Llamar a {name}',
  'access.change': 'Cambiar',
  'access.notes': 'Código, llave, perro: cómo entrar',
  'access.contact_name': 'A quién llamar allí',
  'access.contact_phone': 'Teléfono',
  'access.keep': 'Guardar',
  'access.cancel': 'Dejar como está',
  'access.kept': 'Guardado, cifrado.',
};
