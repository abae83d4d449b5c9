import { useState } from 'preact/hooks';
import { typedNumber } from '../state/typed.js';
import { useApp } from './app-context.js';
import { TextField } from './fields.js';
import { Sign } from './sign.js';

/** Where something stands, as typed or as the device knows it. */
export interface Place {
  readonly typedLatitude: string;
  readonly typedLongitude: string;
  readonly latitude: number | null;
  readonly longitude: number | null;
  /** Above the sea, where the device knows it. */
  readonly elevationM: number | null;
  type(which: 'latitude' | 'longitude', text: string): void;
  here(latitude: number, longitude: number, elevationM: number | null): void;
}

const within = (value: number | null, most: number): number | null =>
  value !== null && Math.abs(value) <= most ? value : null;

export function usePlace(): Place {
  const [typed, setTyped] = useState({ latitude: '', longitude: '' });
  const [elevationM, setElevationM] = useState<number | null>(null);
  return {
    typedLatitude: typed.latitude,
    typedLongitude: typed.longitude,
    latitude: within(typedNumber(typed.latitude), 90),
    longitude: within(typedNumber(typed.longitude), 180),
    elevationM,
    type: (which, text) => setTyped({ ...typed, [which]: text }),
    here: (latitude, longitude, height) => {
      setTyped({ latitude: latitude.toFixed(5), longitude: longitude.toFixed(5) });
      setElevationM(height === null ? null : Math.round(height));
    },
  };
}

export function PlaceFields({ place }: { readonly place: Place }) {
  const { voice } = useApp();
  const [fault, setFault] = useState(false);
  return (
    <>
      <TextField
        label={voice.say('setup.latitude')}
        value={place.typedLatitude}
        required
        onValue={(text) => place.type('latitude', text)}
      />
      <TextField
        label={voice.say('setup.longitude')}
        value={place.typedLongitude}
        required
        onValue={(text) => place.type('longitude', text)}
      />
      <div class="field">
        <button
          type="button"
          class="press"
          onClick={() =>
            navigator.geolocation.getCurrentPosition(
              ({ coords }) => {
                setFault(false);
                place.here(coords.latitude, coords.longitude, coords.altitude);
              },
              () => setFault(true),
            )
          }
        >
          {voice.say('setup.here')}
        </button>
        {fault ? <Sign kind="soon">{voice.say('setup.here_not')}</Sign> : null}
      </div>
    </>
  );
}
