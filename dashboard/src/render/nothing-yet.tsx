import { formatRoute } from '../state/route.js';
import { useApp } from './app-context.js';

/** Where there is no pot at all: what to do next, for whoever may do it. */
export function NothingYet() {
  const { voice, me } = useApp();
  if (me.person.role === 'owner') {
    return (
      <>
        <p>{voice.say('setup.go_text')}</p>
        <a class="press press--first" href={formatRoute({ screen: 'set-up', code: null })}>
          {voice.say('setup.go')}
        </a>
      </>
    );
  }
  if ((me.permissions['container.commission'] ?? 'none') === 'none') return null;
  return (
    <a class="press press--first" href={formatRoute({ screen: 'commission', containerId: 'new' })}>
      {voice.say('commission.add')}
    </a>
  );
}
