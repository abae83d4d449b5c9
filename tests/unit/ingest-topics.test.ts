import { describe, expect, it } from 'vitest';
import { type MqttPrincipal, mayPublish, maySubscribe } from '../../src/ingest/topic-rules.js';

const node: MqttPrincipal = { id: 'N1', kind: 'node', siteId: null };
const gateway: MqttPrincipal = { id: 'G1', kind: 'gateway', siteId: null };
const station: MqttPrincipal = { id: 'W1', kind: 'station', siteId: 'S1' };
const subscriber: MqttPrincipal = { id: 'sub', kind: 'subscriber', siteId: null };
const anyone: MqttPrincipal = { id: 'anyone', kind: 'anyone', siteId: null };
const ALL = { node, gateway, station, subscriber, anyone };

/** N2 and N3 name the gateway G1. */
const gatewayOf = (nodeId: string) => (nodeId === 'N2' || nodeId === 'N3' ? 'G1' : null);

function who(may: (principal: MqttPrincipal) => boolean): string[] {
  return Object.entries(ALL).flatMap(([name, principal]) => (may(principal) ? [name] : []));
}

describe('who may publish', () => {
  it.each([
    ['nodes/N1/readings', ['node', 'anyone']],
    ['nodes/N1/state', ['node', 'anyone']],
    ['nodes/N1/diagnostics', ['node']],
    ['nodes/N1/settings', []],
    ['nodes/N1/settings/more', []],
    ['nodes/N10/readings', ['anyone']],
    ['nodes/N2/readings', ['gateway', 'anyone']],
    ['nodes/N2/state', ['gateway', 'anyone']],
    ['nodes/N2/settings', []],
    ['nodes/N1', []],
    ['nodes/G1/readings', ['anyone']],
    ['sites/S1/weather', ['station', 'anyone']],
    ['sites/S2/weather', ['anyone']],
    ['sites/S1/other', []],
    ['events/alarm', []],
    ['$SYS/broker/x', []],
    ['', []],
  ])('to %s: %j', (topic, expected) => {
    expect(who((principal) => mayPublish(principal, topic, gatewayOf))).toEqual(expected);
  });

  it('a station without a site publishes nowhere', () => {
    expect(mayPublish({ ...station, siteId: null }, 'sites/null/weather', gatewayOf)).toBe(false);
  });
});

describe('who may subscribe', () => {
  it.each([
    ['nodes/N1/settings', ['node', 'anyone']],
    ['nodes/N2/settings', ['anyone']],
    ['nodes/+/settings', []],
    ['nodes/N1/readings', []],
    ['nodes/#', []],
    ['events/#', ['subscriber', 'anyone']],
    ['events/alarm', ['subscriber', 'anyone']],
    ['events', []],
    ['+/alarm', []],
    ['#', []],
    ['$SYS/#', []],
    ['sites/S1/weather', []],
  ])('to %s: %j', (filter, expected) => {
    expect(who((principal) => maySubscribe(principal, filter))).toEqual(expected);
  });
});
