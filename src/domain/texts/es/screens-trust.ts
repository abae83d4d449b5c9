import type { trustScreen as english } from '../en/screens-trust.js';

/** Cómo se entra en los sitios, y lo que toca a la propia cuenta de acceso. */
export const trustScreen: Readonly<Record<keyof typeof english, string>> = {
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
