import { readFileSync } from 'node:fs';
import type { App } from '../../src/app/context.js';
import { runNotifyStage } from '../../src/app/fieldwork/notify-stage.js';
import { OutboxRunner } from '../../src/app/fieldwork/outbox-runner.js';
import { voiceOfAddress } from '../../src/app/fieldwork/voices.js';
import type { Channel } from '../../src/domain/ports/channel.js';
import type { Store } from '../../src/domain/ports/store.js';
import { mailChannel } from '../../src/notify/mail.js';
import { pushAgent, webPushChannel } from '../../src/notify/web-push.js';
import { webhookChannel } from '../../src/notify/webhook.js';
import { openStore } from '../../src/store/open.js';
import type { OutboxTask } from './outbox-process-task.js';
import { silentLog } from './silent-log.js';

/*
 * The way of an alert to people as the server has it, in a process that kills itself at one of its steps:
 * `node outbox-process TASK.json`. What an earlier process left undone is done first.
 */

const task = JSON.parse(readFileSync(process.argv[2] ?? '', 'utf8')) as OutboxTask;
let armed = false;
let count = 0;

/** kill -9 of this very process, where this is the step that the task names. */
function pass(step: 'before commit' | 'after commit' | 'before sending' | 'after sending', number: number): void {
  if (armed && task.dieAt?.step === step && task.dieAt.number === number) process.kill(process.pid, 'SIGKILL');
}

/** The store as it is, with a step before and after each commit. */
function stepping(store: Store): Store {
  const commit: Store['commit'] = async (changeSet) => {
    count += 1;
    const mine = count;
    pass('before commit', mine);
    const result = await store.commit(changeSet);
    pass('after commit', mine);
    return result;
  };
  return new Proxy(store, {
    get: (target, name) => {
      if (name === 'commit') return commit;
      const value: unknown = Reflect.get(target, name, target);
      return typeof value === 'function' ? value.bind(target) : value;
    },
  });
}

let sent = 0;

function steppingChannel(channel: Channel): Channel {
  return {
    kind: channel.kind,
    deliver: async (rendered) => {
      sent += 1;
      const mine = sent;
      pass('before sending', mine);
      const outcome = await channel.deliver(rendered);
      pass('after sending', mine);
      return outcome;
    },
    close: () => channel.close(),
  };
}

const store = await openStore({ dir: task.dir, log: silentLog });
const app: App = { store: stepping(store), clock: { nowMs: () => task.nowMs }, log: silentLog };
const { mail, push, authorityPem } = task;
const channels = [
  webhookChannel({ source: 'https://brimline.localhost', allowedPrivateHosts: ['localhost'], authorityPem }),
  mailChannel({ ...mail, host: 'localhost', implicitTls: false, authorityPem, user: null, password: null }),
  webPushChannel(push, pushAgent(['localhost'], authorityPem)),
];
const runner = new OutboxRunner(app, {
  channels: channels.map(steppingChannel),
  rng: () => 0.5,
  linkOf: () => null,
  voiceOf: (address) => voiceOfAddress(app, address),
});

async function deliverAll(): Promise<void> {
  while ((await runNotifyStage(app, async () => 'UTC')) > 0);
  while ((await runner.runOnce()) > 0);
}

await deliverAll();
armed = true;
count = 0;
sent = 0;
if (task.alert !== null) {
  await app.store.commit({
    atMs: task.nowMs,
    actor: { kind: 'command', id: 'test' },
    writes: [{ kind: 'alert', row: task.alert }],
    cursor: null,
  });
}
await deliverAll();
await runner.close();
await store.close();
