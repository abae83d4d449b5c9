import type { RenderedEntry } from '../domain/ports/channel.js';

/** CloudEvents 1.0, JSON format (required: specversion, id, source, type). */
export interface CloudEvent {
  readonly specversion: '1.0';
  readonly id: string;
  readonly source: string;
  readonly type: string;
  readonly time: string;
  readonly subject: string;
  readonly datacontenttype: 'application/json';
  readonly data: {
    readonly topic: string;
    readonly withdrawn: boolean;
    readonly urgent: boolean;
    readonly title: string;
    readonly lines: readonly string[];
    readonly link: string | null;
    /** The same in codes and SI units, for a program. */
    readonly messages: readonly unknown[];
  };
}

/** @param source URI of this server, as CloudEvents asks */
export function cloudEventOf(rendered: RenderedEntry, source: string): CloudEvent {
  const { entry } = rendered;
  return {
    specversion: '1.0',
    id: entry.id,
    source,
    type: entry.withdrawal ? 'alert.withdrawn' : 'alert.raised',
    time: new Date(entry.createdMs).toISOString(),
    subject: entry.topic,
    datacontenttype: 'application/json',
    data: {
      topic: entry.topic,
      withdrawn: entry.withdrawal,
      urgent: entry.urgent,
      title: rendered.subject,
      lines: rendered.lines,
      link: rendered.link,
      messages: [entry.subject, ...entry.body],
    },
  };
}
