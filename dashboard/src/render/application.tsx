import { useCallback, useEffect, useMemo, useState } from 'preact/hooks';
import { ApiRefusal, NoConnection } from '../api/client.js';
import type { Me } from '../api/views.js';
import { businessNowMs, type ClockFix } from '../state/business-clock.js';
import { isLanguage, type Language, localeOf } from '../state/locale.js';
import { formatRoute, parseRoute, type Route } from '../state/route.js';
import { mayOpen, SCREENS_OF_ROLE } from '../state/screens-of-role.js';
import { makeVoice } from '../state/voice.js';
import { type AppContext, AppContextSlot, useApp } from './app-context.js';
import { lazyPart, VoiceSlot } from './lazy-part.js';
import { useHomeZone, useLook, useRoute, useStream, useTexts } from './page-hooks.js';
import { RoundScreen } from './round-screen.js';
import { API_BASE, cache, client, KEPT_ROLE, onSignedOut, outbox, resources, storage } from './services.js';
import { Shell } from './shell.js';
import { Toast, type ToastWords } from './toast.js';

// A technician's phone starts with the round alone; every other screen comes when it is opened.
const AlarmsScreen = lazyPart(async () => (await import('./alarms-screen.js')).AlarmsScreen);
const PlanBoard = lazyPart(async () => (await import('./plan-board.js')).PlanBoard);
const ContainerScreen = lazyPart(async () => (await import('./container-screen.js')).ContainerScreen);
const ContainersScreen = lazyPart(async () => (await import('./containers-screen.js')).ContainersScreen);
const SettingsScreen = lazyPart(async () => (await import('./settings-screen.js')).SettingsScreen);
const TodayScreen = lazyPart(async () => (await import('./today-screen.js')).TodayScreen);
const WaterScreen = lazyPart(async () => (await import('./water-screen.js')).WaterScreen);
const OwnDoors = lazyPart(async () => (await import('./own-doors.js')).OwnDoors);
const Welcome = lazyPart(async () => (await import('./welcome.js')).Welcome);
const CommissionScreen = lazyPart(async () => (await import('./commission-screen.js')).CommissionScreen);
const SetUpDoor = lazyPart(async () => (await import('./set-up-door.js')).SetUpDoor);
const SetUpScreen = lazyPart(async () => (await import('./set-up-screen.js')).SetUpScreen);
const SignIn = lazyPart(async () => (await import('./sign-in.js')).SignIn);

const KEPT_ME = 'me';
const SEND_AGAIN_MS = 20_000;

type Stage =
  | { readonly kind: 'starting' }
  /** `awaits`: nobody is there at all, so that somebody may become the owner. */
  | { readonly kind: 'out'; readonly awaits: boolean }
  | { readonly kind: 'in'; readonly me: Me; readonly fix: ClockFix };

interface KeptStart {
  readonly me: Me;
  readonly fix: ClockFix;
}

const streamHandlers = {
  onChanges: cache.apply.bind(cache),
  onGap: () => {
    cache.ageAll();
    void outbox.flush();
  },
};

function startRoute(me: Me): Route {
  const screen = SCREENS_OF_ROLE[me.person.role][0];
  return parseRoute(`#/${screen}`) ?? { screen: 'settings' };
}

/** Who was signed in on this device, so that the page need not wait for the server to begin. */
async function keptStart(): Promise<KeptStart | null> {
  try {
    return ((await storage.kept(KEPT_ME)) as KeptStart | undefined) ?? null;
  } catch (fault) {
    console.warn('the device keeps nothing', fault);
    return null;
  }
}

/** Who is signed in, by the server's word; `unreachable` where there is none. */
async function askStart(): Promise<KeptStart | 'nobody' | 'unreachable'> {
  try {
    const me = (await client.get('/session')) as Me;
    return { me, fix: fixOf(me) };
  } catch (fault) {
    if (fault instanceof NoConnection) return 'unreachable';
    if (fault instanceof ApiRefusal) return 'nobody';
    throw fault;
  }
}

/** Whether the server still waits for its first owner. */
async function awaitsSetUp(): Promise<boolean> {
  try {
    return ((await client.get('/set-up')) as { readonly awaits: boolean }).awaits;
  } catch (fault) {
    console.warn('nobody says whether the server was set up', fault);
    return false;
  }
}

/** Before anybody is signed in the page speaks as the device does. */
function doorLanguage(): Language {
  const wanted = navigator.language.slice(0, 2);
  return isLanguage(wanted) ? wanted : 'en';
}

/** Who plans sees the board of all rounds first, and one round where it is asked for. */
function isOneRound(me: Me, route: Route): boolean {
  if (route.screen !== 'round') return false;
  return route.technicianId !== null || (me.permissions['plan.read'] ?? 'none') === 'none';
}

function fixOf(me: Me): ClockFix {
  return { businessMs: me.now.businessMs, speed: me.now.speed, deviceMs: Date.now() };
}

export function Application() {
  const [stage, setStage] = useState<Stage>({ kind: 'starting' });
  const [look, setLook] = useLook();
  const [zone, setHomeZone] = useHomeZone();
  const [toast, setToast] = useState<ToastWords | null>(null);
  const route = useRoute();
  const stream = useStream(`${API_BASE}/changes`, stage.kind === 'in', streamHandlers);

  const enter = useCallback((start: KeptStart) => {
    localStorage.setItem(KEPT_ROLE, start.me.person.role);
    setStage({ kind: 'in', ...start });
    // Without the device's storage the page still works while there is a signal.
    storage.keep(KEPT_ME, start).catch((fault: unknown) => console.warn('the device keeps nothing', fault));
  }, []);

  useEffect(() => {
    onSignedOut(() => {
      cache.clear();
      storage.forgetKept().catch((fault: unknown) => console.warn('the device keeps nothing', fault));
      setStage({ kind: 'out', awaits: false });
    });
    const start = async (): Promise<void> => {
      const asked = askStart();
      const kept = await keptStart();
      if (kept !== null) setStage((now) => (now.kind === 'starting' ? { kind: 'in', ...kept } : now));
      const answer = await asked;
      if (answer === 'nobody') setStage({ kind: 'out', awaits: await awaitsSetUp() });
      else if (answer === 'unreachable' && kept === null) setStage({ kind: 'out', awaits: false });
      else if (answer !== 'unreachable') enter(answer);
    };
    void start();
  }, [enter]);

  const signedIn = stage.kind === 'in';
  useEffect(() => {
    if (!signedIn) return undefined;
    const again = (): void => void outbox.flush();
    outbox
      .open()
      .then(again)
      .catch((fault: unknown) => console.warn('the device keeps nothing', fault));
    const timer = setInterval(again, SEND_AGAIN_MS);
    addEventListener('online', again);
    return () => {
      clearInterval(timer);
      removeEventListener('online', again);
    };
  }, [signedIn]);

  const person = stage.kind === 'in' ? stage.me.person : null;
  const units = person?.units ?? null;
  const language = person?.language ?? doorLanguage();
  const shown = stage.kind === 'in' ? (route ?? startRoute(stage.me)) : null;
  const welcome = route?.screen === 'welcome' ? route : null;
  const ownRound = stage.kind === 'in' && shown !== null && isOneRound(stage.me, shown);
  const texts = useTexts(language, welcome !== null || (stage.kind !== 'starting' && !ownRound));
  const voice = useMemo(
    () =>
      makeVoice(
        texts.catalogue,
        {
          locale: localeOf(texts.language, navigator.languages),
          timeZone: zone,
          units: units ?? { volume: 'L', length: 'mm', temperature: 'Cel' },
        },
        texts.complete,
      ),
    [units, texts, zone],
  );
  useEffect(() => {
    document.documentElement.lang = texts.language;
  }, [texts]);

  if (welcome !== null) {
    return (
      <VoiceSlot.Provider value={voice}>
        <Welcome client={client} voice={voice} token={welcome.token} />
      </VoiceSlot.Provider>
    );
  }
  if (stage.kind === 'starting') return <main id="content" aria-busy="true" />;
  if (stage.kind === 'out' || shown === null) {
    return (
      <VoiceSlot.Provider value={voice}>
        {stage.kind === 'out' && stage.awaits ? (
          <SetUpDoor
            client={client}
            voice={voice}
            code={route?.screen === 'set-up' ? (route.code ?? '') : ''}
            onDone={(me) => {
              location.hash = formatRoute({ screen: 'set-up', code: null });
              enter({ me, fix: fixOf(me) });
            }}
          />
        ) : (
          <SignIn client={client} voice={voice} onSignedIn={(me) => enter({ me, fix: fixOf(me) })} />
        )}
      </VoiceSlot.Provider>
    );
  }

  const { me, fix } = stage;
  const app: AppContext = {
    me,
    client,
    cache,
    resources,
    outbox,
    storage,
    voice,
    stream,
    look,
    nowMs: () => businessNowMs(fix, Date.now()),
    setLook,
    setHomeZone,
    setMe: (next) => enter({ me: next, fix: fixOf(next) }),
    signOut: async () => {
      await client.send('DELETE', '/session', null);
      await storage.forgetKept();
      cache.clear();
      location.hash = '';
      setStage({ kind: 'out', awaits: false });
    },
    announce: (text, undo) => setToast({ text, undo: undo ?? null, shownMs: performance.now() }),
  };
  return (
    <VoiceSlot.Provider value={voice}>
      <AppContextSlot.Provider value={app}>
        {me.mustEnrol ? (
          <main class="door" id="content">
            <div class="door-sheet">
              <OwnDoors onEnrolled={() => void askStart().then((next) => typeof next === 'object' && enter(next))} />
            </div>
          </main>
        ) : (
          <Shell route={shown}>
            {mayOpen(me.person.role, shown.screen) ? <Screen route={shown} /> : <Forbidden />}
          </Shell>
        )}
        <Toast words={toast} onGone={() => setToast(null)} />
      </AppContextSlot.Provider>
    </VoiceSlot.Provider>
  );
}

function Screen({ route }: { readonly route: Route }) {
  const { me } = useApp();
  switch (route.screen) {
    case 'today':
      return <TodayScreen />;
    case 'round':
      return isOneRound(me, route) ? <RoundScreen technicianId={route.technicianId} day={route.day} /> : <PlanBoard />;
    case 'containers':
      return <ContainersScreen />;
    case 'container':
      return <ContainerScreen key={route.containerId} containerId={route.containerId} />;
    case 'alarms':
      return <AlarmsScreen />;
    case 'water':
      return <WaterScreen accountId={route.accountId} siteId={route.siteId} />;
    case 'settings':
      return <SettingsScreen />;
    case 'commission':
      return <CommissionScreen key={route.containerId} containerId={route.containerId} />;
    case 'set-up':
      return <SetUpScreen />;
    case 'welcome':
      return null;
    case 'unknown':
      return <UnknownScreen path={route.path} />;
  }
}

function Forbidden() {
  const { me, voice } = useApp();
  return (
    <div class="empty">
      <h1>{voice.say('forbidden.title')}</h1>
      <p>{voice.say('forbidden.text', { role: voice.say(`role.${me.person.role}`) })}</p>
      <a class="press" href={formatRoute(startRoute(me))}>
        {voice.say('unknown.go')}
      </a>
    </div>
  );
}

function UnknownScreen({ path }: { readonly path: string }) {
  const { me, voice } = useApp();
  return (
    <div class="empty">
      <h1>{voice.say('unknown.title')}</h1>
      <p>{voice.say('unknown.text', { path })}</p>
      <a class="press" href={formatRoute(startRoute(me))}>
        {voice.say('unknown.go')}
      </a>
    </div>
  );
}
