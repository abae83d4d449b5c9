import type { trustScreen as english } from '../en/screens-trust.js';

/** Lo que toca a la propia cuenta de acceso. */
export const trustScreen: Readonly<Record<keyof typeof english, string>> = {
  'door.welcome_title': 'Le damos la bienvenida',
  'door.recovery_title': 'Una contraseña nueva',
  'door.welcome': 'Es usted {name}, y su nombre de acceso es {login}. Elija una contraseña.',
  'door.new_password': 'Contraseña nueva',
  'door.current_password': 'Contraseña actual',
  'door.password_again': 'La misma otra vez',
  'door.password_hint': 'Al menos 12 caracteres; unas cuantas palabras seguidas se recuerdan bien.',
  'door.differ': 'Las dos contraseñas no son iguales.',
  'door.set': 'Fijar la contraseña',
  'door.over':
    'Este enlace ya no vale: se usó, tiene más de tres días, o se hizo otro más nuevo. Pida otro a la persona propietaria.',
  'door.done': 'La contraseña está fijada. Entre con ella.',
  'door.to_sign_in': 'Ir a la entrada',
  'door.password': 'Contraseña',
  'door.change_password': 'Fijar otra contraseña',
  'door.password_set': 'La contraseña está fijada; en los demás dispositivos se ha cerrado la sesión.',

  'factor.title': 'Segundo factor',
  'factor.code': 'Código del teléfono, o un código de recuperación',
  'factor.needed': 'La contraseña es correcta. Ahora el código del teléfono.',
  'factor.off':
    'Una aplicación del teléfono que muestra un código nuevo cada 30 segundos impide que una contraseña robada abra nada.',
  'factor.required':
    'La empresa pide un segundo factor a su función: una aplicación del teléfono que muestra un código nuevo cada 30 segundos.',
  'factor.begin': 'Configurarlo',
  'factor.scan': 'Escanee esto con la aplicación del teléfono y escriba el código que muestra.',
  'factor.qr': 'Código QR para la aplicación del teléfono',
  'factor.by_hand': 'Si la aplicación no puede escanear:',
  'factor.turn_on': 'Activarlo',
  'factor.codes':
    'Guarde estos códigos de recuperación donde los encuentre sin el teléfono. Cada uno vale una vez, y solo se muestran ahora.',
  'factor.codes_kept': 'Los he guardado',
  'factor.on': 'Está activado; quedan {codes#código de recuperación|códigos de recuperación}.',
  'factor.take_away': 'Quitarlo',
  'factor.dropped': 'El segundo factor está desactivado.',
};
