import { useState } from 'preact/hooks';
import { formatLength, formatVolume } from '../../../src/domain/texts/render.js';
import type { ContainerDetail, Finding, TaskView, VisitView } from '../api/views.js';
import { formatRoute } from '../state/route.js';
import type { Voice } from '../state/voice.js';
import { useApp, useLive } from './app-context.js';
import { BandDrawing } from './band-drawing.js';
import { EventLines } from './event-lines.js';
import { Sign } from './sign.js';

export function Findings({ findings, voice }: { readonly findings: readonly Finding[]; readonly voice: Voice }) {
  return (
    <section aria-labelledby="findings-title">
      <h2 id="findings-title">{voice.say('pot.findings_title')}</h2>
      {findings.length === 0 ? <p class="soft">{voice.say('pot.findings_none')}</p> : null}
      <ul class="record-lines">
        {findings.map((finding) => (
          <li key={finding.id}>
            <p>
              <Sign kind={finding.closedMs !== null ? 'plain' : finding.severity === 'high' ? 'now' : 'soon'}>
                {voice.say(`finding.kind.${finding.kind}`)}
              </Sign>{' '}
              <span class="small soft">
                {[
                  voice.say('pot.finding_open', { openedMs: finding.openedMs }),
                  finding.onsetMs === null ? null : voice.say('pot.finding_onset', { onsetMs: finding.onsetMs }),
                  finding.closedMs === null ? null : voice.say('pot.finding_closed', { closedMs: finding.closedMs }),
                  voice.say('pot.finding_sure', { confidenceFraction: finding.confidence }),
                ]
                  .filter((part) => part !== null)
                  .join(' · ')}
              </span>
            </p>
            <ul class="evidence">
              {finding.evidence.map((message) => (
                <li key={message.code}>{voice.tell(message)}</li>
              ))}
            </ul>
            {finding.toConfirm === null ? null : (
              <p class="small">
                <strong>{voice.say('pot.finding_confirm')}: </strong>
                {voice.tell(finding.toConfirm)}
              </p>
            )}
          </li>
        ))}
      </ul>
    </section>
  );
}

export function OpenTasks({ tasks, voice }: { readonly tasks: readonly TaskView[]; readonly voice: Voice }) {
  return (
    <section aria-labelledby="tasks-title">
      <h2 id="tasks-title">{voice.say('pot.tasks_title')}</h2>
      {tasks.length === 0 ? <p class="soft">{voice.say('pot.tasks_none')}</p> : null}
      <ul class="record-lines">
        {tasks.map((task) => (
          <li key={task.id}>
            <p>
              <strong>{voice.say(`task.${task.kind}`)}</strong>
              {task.litres === null ? null : <> · {voice.say('quantity.litres', { litres: task.litres })}</>}
              <span class="soft small"> · {voice.say('pot.task_due', { dueByMs: task.dueByMs })}</span>
            </p>
            <p class="small">{task.reason.map((message) => voice.tell(message)).join(' ')}</p>
          </li>
        ))}
      </ul>
    </section>
  );
}

export function Visits({
  visits,
  containerId,
  voice,
}: {
  readonly visits: readonly VisitView[];
  readonly containerId: string;
  readonly voice: Voice;
}) {
  return (
    <section aria-labelledby="visits-title">
      <h2 id="visits-title">{voice.say('pot.visits_title')}</h2>
      {visits.length === 0 ? <p class="soft">{voice.say('pot.visits_none')}</p> : null}
      <ul class="record-lines">
        {visits.map((view) => {
          const actions = view.visit.actions.filter((action) => action.containerId === containerId);
          const verdict = view.verifications.find((one) => one.containerId === containerId);
          return (
            <li key={view.visit.id}>
              <p>
                <strong>{voice.say('pot.visit_by', { atMs: view.visit.happenedMs, name: view.technicianName })}</strong>
              </p>
              <ul>
                {actions.map((action) => (
                  <li key={`${action.taskId}/${action.work}`} class="small">
                    {action.exception === null ? (
                      action.work === 'refill' && action.litres !== null ? (
                        voice.say('work.refill', { litres: action.litres })
                      ) : (
                        voice.say(action.work === 'refill' ? 'work.refill_unknown' : `work.${action.work}`)
                      )
                    ) : (
                      <Sign kind="soon">{voice.say(`record.exception.${action.exception}`)}</Sign>
                    )}
                    {action.note === null ? null : <span class="soft"> “{action.note}”</span>}
                  </li>
                ))}
              </ul>
              {verdict === undefined ? null : (
                <p class="small">
                  <Sign
                    kind={
                      verdict.outcome === 'confirmed' ? 'good' : verdict.outcome === 'contradicted' ? 'now' : 'unknown'
                    }
                  >
                    {voice.say(`record.verified.${verdict.outcome}`)}
                  </Sign>{' '}
                  {voice.tell(verdict.message)}
                </p>
              )}
              {view.visit.note === null ? null : <p class="small soft">“{view.visit.note}”</p>}
            </li>
          );
        })}
      </ul>
    </section>
  );
}

export function Events({
  detail,
  voice,
  mayCorrect,
}: {
  readonly detail: ContainerDetail;
  readonly voice: Voice;
  readonly mayCorrect: boolean;
}) {
  return (
    <details class="fold">
      <summary>{voice.say('pot.events_title')}</summary>
      {detail.events.length === 0 ? <p class="soft">{voice.say('pot.events_none')}</p> : null}
      <EventLines detail={detail} voice={voice} mayCorrect={mayCorrect} />
    </details>
  );
}

export function Nodes({ detail, voice }: { readonly detail: ContainerDetail; readonly voice: Voice }) {
  return (
    <details class="fold">
      <summary>{voice.say('pot.nodes_title')}</summary>
      {detail.assignments.length === 0 ? <p class="soft">{voice.say('pot.nodes_none')}</p> : null}
      <ul class="record-lines">
        {detail.assignments.toReversed().map((assignment) => (
          <li key={assignment.id}>
            <strong>{assignment.nodeId}</strong>{' '}
            <span class="small">
              {voice.say('pot.node_from', { fromMs: assignment.fromMs })}
              {' · '}
              {assignment.toMs === null
                ? voice.say('pot.node_now')
                : voice.say('pot.node_to', { toMs: assignment.toMs })}
              {assignment.zeroMm === 0 ? null : <> · {voice.say('pot.node_zero', { zeroMm: assignment.zeroMm })}</>}
            </span>
          </li>
        ))}
      </ul>
    </details>
  );
}

/** The pot's own table; where it was poured, with its band and the pours behind it. */
export function StrappingTable({ detail, voice }: { readonly detail: ContainerDetail; readonly voice: Voice }) {
  const { resources, me } = useApp();
  const { id, reservoir } = detail.container;
  const [open, setOpen] = useState(false);
  const poured = useLive(open ? resources.pouredTable(id) : null).data;
  const bandOf = new Map(poured?.band.map((point) => [point.levelMm, (point.highLitres - point.lowLitres) / 2]));
  let totalLitres = 0;
  return (
    <details class="fold" onToggle={(event) => setOpen(event.currentTarget.open)}>
      <summary>{voice.say('pot.strapping_title')}</summary>
      {poured === null ? (
        <p class="small soft">{voice.say('pot.strapping_given')}</p>
      ) : (
        <>
          <p class="small soft">
            {voice.say('commission.poured_at', { atMs: poured.atMs, pours: poured.pours.length })}
          </p>
          <BandDrawing
            band={poured.band}
            pours={poured.pours.map((pour) => {
              totalLitres += pour.litres;
              return { totalLitres, levelMm: pour.levelMm };
            })}
            voice={voice}
          />
        </>
      )}
      <table class="figures figures--narrow">
        <thead>
          <tr>
            <th scope="col">{voice.say('pot.strapping_level')}</th>
            <th scope="col">{voice.say('pot.strapping_litres')}</th>
            {poured === null ? null : <th scope="col">{voice.say('pot.strapping_band')}</th>}
          </tr>
        </thead>
        <tbody>
          {reservoir.strapping.map(([levelMm, litres]) => (
            <tr key={levelMm}>
              <th scope="row">{formatLength(levelMm, voice.reader)}</th>
              <td>{formatVolume(litres, voice.reader)}</td>
              {poured === null ? null : <td>± {formatVolume(bandOf.get(levelMm) ?? 0, voice.reader)}</td>}
            </tr>
          ))}
        </tbody>
      </table>
      {(me.permissions['container.commission'] ?? 'none') === 'none' ? null : (
        <p>
          <a class="big-link" href={formatRoute({ screen: 'commission', containerId: id })}>
            {voice.say('pot.commission')}
          </a>
        </p>
      )}
    </details>
  );
}
