/** What belongs to one's own log-in. */
export const trustScreen = {
  'door.welcome_title': 'Welcome',
  'door.recovery_title': 'A new password',
  'door.welcome': 'You are {name}, and your log-in name is {login}. Choose a password.',
  'door.new_password': 'New password',
  'door.current_password': 'Password so far',
  'door.password_again': 'The same once more',
  'door.password_hint': 'At least 12 characters; a few words in a row are easy to keep in mind.',
  'door.differ': 'The two passwords are not the same.',
  'door.set': 'Set the password',
  'door.over':
    'This link is over: it was used, or is older than three days, or a newer one was made. Ask the owner for another.',
  'door.done': 'The password is set. Sign in with it.',
  'door.to_sign_in': 'To the log-in',
  'door.password': 'Password',
  'door.change_password': 'Set another password',
  'door.password_set': 'The password is set; every other device is signed out.',

  'factor.title': 'Second factor',
  'factor.code': 'Code from your phone, or a recovery code',
  'factor.needed': 'The password is right. Now the code from your phone.',
  'factor.off':
    'An app on your phone that shows a new code every 30 seconds keeps a stolen password from opening anything.',
  'factor.required':
    'The firm asks a second factor of your role: an app on your phone that shows a new code every 30 seconds.',
  'factor.begin': 'Set it up',
  'factor.scan': 'Scan this with the app on your phone, then type the code that it shows.',
  'factor.qr': 'QR code for the app on your phone',
  'factor.by_hand': 'Where the app cannot scan:',
  'factor.turn_on': 'Turn it on',
  'factor.codes':
    'Keep these recovery codes where you would find them without the phone. Each works once, and they are shown only now.',
  'factor.codes_kept': 'I have kept them',
  'factor.on': 'It is on; {codes#recovery code|recovery codes} left.',
  'factor.take_away': 'Take it away',
  'factor.dropped': 'The second factor is off.',
} as const;
