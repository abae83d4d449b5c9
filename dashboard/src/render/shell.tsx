import type { ComponentChildren } from 'preact';
import { useEffect, useRef } from 'preact/hooks';
import { formatRoute, type Route, type Screen } from '../state/route.js';
import { SCREENS_OF_ROLE } from '../state/screens-of-role.js';
import type { Voice } from '../state/voice.js';
import { AlertsStrip } from './alerts-strip.js';
import { useApp, useNowMs } from './app-context.js';
import { SignShape } from './sign.js';

const ROUTE_OF_SCREEN: Readonly<Record<'today' | 'round' | 'containers' | 'alarms' | 'water' | 'commission', Route>> = {
  today: { screen: 'today' },
  round: { screen: 'round', technicianId: null, day: null },
  containers: { screen: 'containers' },
  alarms: { screen: 'alarms' },
  water: { screen: 'water', accountId: null, siteId: null },
  commission: { screen: 'commission', containerId: null },
};

type NavScreen = keyof typeof ROUTE_OF_SCREEN;

const isNavScreen = (screen: Screen): screen is NavScreen => screen in ROUTE_OF_SCREEN;

/** The name over its water line: a pot's rim with the water standing at the brim. */
export function Wordmark({ voice }: { readonly voice: Voice }) {
  return (
    <span class="wordmark">
      <svg viewBox="0 0 40 30" aria-hidden="true" focusable="false">
        <path d="M3 5 H8.2 L12 27 H28 L31.8 5 H37" class="wordmark-pot" />
        <path d="M9.4 9 C13 6.6 16 11.4 20 9 S27 6.6 30.6 9 L28 25.6 H12 Z" class="wordmark-water" />
      </svg>
      {voice.say('app.name')}
    </span>
  );
}

function LiveMark() {
  const { stream, voice } = useApp();
  const nowMs = useNowMs(5_000);
  const kind = stream === 'live' ? 'good' : stream === 'connecting' ? 'plain' : 'soon';
  return (
    <p class={`live live--${stream}`}>
      <span class="no-wrap">{voice.say('live.as_of', { atMs: nowMs, at2Ms: nowMs })}</span>{' '}
      <span class={`sign sign--${kind}`} role="status">
        <SignShape kind={kind} />
        <span>{voice.say(`live.${stream}`)}</span>
      </span>
    </p>
  );
}

export function Shell({ route, children }: { readonly route: Route; readonly children: ComponentChildren }) {
  const { me, voice } = useApp();
  const main = useRef<HTMLElement>(null);
  const place = formatRoute(route);
  const first = useRef(true);

  // A new screen starts at its top, and the keyboard with it; the first one keeps the browser's own start.
  useEffect(() => {
    if (first.current) {
      first.current = false;
      return;
    }
    window.scrollTo(0, 0);
    main.current?.focus({ preventScroll: true });
  }, [place]);

  const current: Screen = route.screen === 'container' ? 'containers' : route.screen;
  return (
    <>
      <header class="brim">
        <a
          class="skip"
          href={place}
          onClick={(event) => {
            event.preventDefault();
            main.current?.focus();
          }}
        >
          {voice.say('app.skip')}
        </a>
        <a class="brim-name" href={formatRoute(ROUTE_OF_SCREEN[startOf(me.person.role)])}>
          <Wordmark voice={voice} />
        </a>
        <nav class="screens" aria-label={voice.say('app.menu')}>
          <ul>
            {SCREENS_OF_ROLE[me.person.role].filter(isNavScreen).map((screen) => (
              <li key={screen}>
                <a href={formatRoute(ROUTE_OF_SCREEN[screen])} aria-current={screen === current ? 'page' : undefined}>
                  <span>{voice.say(`nav.${screen}`)}</span>
                </a>
              </li>
            ))}
          </ul>
        </nav>
        <LiveMark />
        <a
          class="brim-person"
          href={formatRoute({ screen: 'settings' })}
          aria-current={current === 'settings' ? 'page' : undefined}
        >
          <span>{me.person.name}</span>
          <span class="soft smallest">{voice.say('nav.settings')}</span>
        </a>
      </header>
      <AlertsStrip />
      <main ref={main} id="content" class={`screen screen--${route.screen}`} tabIndex={-1}>
        {children}
      </main>
    </>
  );
}

function startOf(role: keyof typeof SCREENS_OF_ROLE): NavScreen {
  const first = SCREENS_OF_ROLE[role][0];
  if (first === undefined || !isNavScreen(first)) throw new Error(`role ${role} has no first screen`);
  return first;
}
