import { describe, expect, it } from 'vitest';
import { UsageError } from '../../src/commands/command.js';
import { readSettings } from '../../src/config.js';
import { DomainError } from '../../src/domain/errors.js';
import { isLoopback } from '../../src/http/loopback.js';

describe('settings', () => {
  it('listen on this machine only unless somebody says otherwise', () => {
    const settings = readSettings({}, {});
    expect(settings.http.host).toBe('127.0.0.1');
    expect(settings.mqtt.host).toBe('127.0.0.1');
    expect(settings.mqtt.open).toBe(false);
    expect(settings.dataDir).toBe('./brimline-data');
  });

  it('take the option before the variable, and the variable before the default', () => {
    const environment = { BRIMLINE_HTTP_PORT: '9000', BRIMLINE_MQTT_PORT: '9883', BRIMLINE_LOG_LEVEL: '' };
    const settings = readSettings({ http: '9001' }, environment);
    expect(settings.http.port).toBe(9001);
    expect(settings.mqtt.port).toBe(9883);
    expect(settings.logLevel).toBe('info');
  });

  it('list every fault at once, each with the option and the variable that mend it', () => {
    const faulty = () =>
      readSettings({ http: 'eighty', host: 'nowhere' }, { BRIMLINE_MQTT_PORT: '70000', BRIMLINE_SESSION_HOURS: '-1' });
    expect(faulty).toThrow(UsageError);
    expect(faulty).toThrow(/4 faults/);
    expect(faulty).toThrow(/--http \(or BRIMLINE_HTTP_PORT\): "eighty" is not a number/);
    expect(faulty).toThrow(/--host \(or BRIMLINE_HOST\): "nowhere" is neither an IP address nor localhost/);
    expect(faulty).toThrow(/--mqtt \(or BRIMLINE_MQTT_PORT\): "70000" is above 65535/);
    expect(faulty).toThrow(/BRIMLINE_SESSION_HOURS: "-1" is not above 0/);
  });

  it.each(['mysql://x', 'nonsense', 'http://broker'])('refuse %s as a broker', (url) => {
    expect(() => readSettings({ broker: url }, {})).toThrow(/MQTT address/);
  });

  it('take map tiles only with what is to stand on them, and from one host', () => {
    const tiles = 'https://tiles.example/{z}/{x}/{y}.png';
    const attribution = 'Survey of the Coast';
    expect(readSettings({}, {}).http.mapTiles).toBeNull();
    expect(
      readSettings({}, { BRIMLINE_MAP_TILES: tiles, BRIMLINE_MAP_ATTRIBUTION: attribution }).http.mapTiles,
    ).toEqual({ template: tiles, attribution });
    expect(() => readSettings({}, { BRIMLINE_MAP_TILES: tiles })).toThrow(/BRIMLINE_MAP_ATTRIBUTION/);
    for (const bad of ['https://{s}.tiles.example/{z}/{x}/{y}.png', 'https://tiles.example/', 'file:///{z}/{x}/{y}']) {
      expect(() => readSettings({}, { BRIMLINE_MAP_TILES: bad, BRIMLINE_MAP_ATTRIBUTION: attribution })).toThrow(
        /is not an address with/,
      );
    }
  });

  it('take the open mode on this machine only', () => {
    expect(readSettings({ open: true }, {}).mqtt.open).toBe(true);
    const open = () => readSettings({ open: true, host: '0.0.0.0' }, {});
    expect(open).toThrow(DomainError);
    expect(open).toThrow(/0\.0\.0\.0/);
  });

  it('want both log-in and password for a first owner from the environment', () => {
    expect(readSettings({}, {}).firstOwner).toBeNull();
    expect(() => readSettings({}, { BRIMLINE_OWNER_LOGIN: 'ada' })).toThrow(/BRIMLINE_OWNER_PASSWORD/);
    expect(readSettings({}, { BRIMLINE_OWNER_LOGIN: 'ada', BRIMLINE_OWNER_PASSWORD: 'x' }).firstOwner).toEqual({
      name: 'ada',
      login: 'ada',
      password: 'x',
    });
  });

  it('want certificate, key and something that speaks TLS together', () => {
    const files = { BRIMLINE_TLS_CERT: 'cert.pem', BRIMLINE_TLS_KEY: 'key.pem' };
    expect(readSettings({}, {}).tls).toBeNull();
    expect(() => readSettings({}, { BRIMLINE_MQTTS_PORT: '8883' })).toThrow(/BRIMLINE_TLS_CERT and BRIMLINE_TLS_KEY/);
    expect(() => readSettings({}, files)).toThrow(/nothing that would show it/);
    const settings = readSettings({}, { ...files, BRIMLINE_MQTTS_PORT: '8883', BRIMLINE_MQTT_PORT: 'off' });
    expect(settings.tls).toEqual({ certFile: 'cert.pem', keyFile: 'key.pem', clientCaFile: null });
    expect(settings.mqtt).toMatchObject({ port: null, tlsPort: 8883, wssPort: null });
    expect(() => readSettings({}, { BRIMLINE_MQTT_PORT: 'out' })).toThrow(/neither a port from 0 to 65535 nor off/);
  });

  it('cannot be changed once read', () => {
    const settings = readSettings({}, {});
    expect(() => Object.assign(settings.http, { port: 1 })).toThrow(TypeError);
  });

  it.each([
    ['127.0.0.1', true],
    ['127.8.8.8', true],
    ['::1', true],
    ['localhost', true],
    ['0.0.0.0', false],
    ['192.168.1.5', false],
    ['127.evil.example', false],
  ])('know whether %s is this machine: %s', (host, expected) => {
    expect(isLoopback(host)).toBe(expected);
  });

  it('ask no weather service unless it is named together with a way to be reached', () => {
    expect(readSettings({}, {}).weather).toBeNull();
    expect(() => readSettings({}, { BRIMLINE_WEATHER_SERVICE: 'nws' })).toThrow('BRIMLINE_WEATHER_CONTACT');
    expect(() =>
      readSettings({}, { BRIMLINE_WEATHER_SERVICE: 'nws', BRIMLINE_WEATHER_CONTACT: 'nobody in particular' }),
    ).toThrow('is neither a mail address');
    const contact = 'ops@firm.example';
    expect(readSettings({}, { BRIMLINE_WEATHER_SERVICE: 'nws', BRIMLINE_WEATHER_CONTACT: contact }).weather).toEqual({
      service: 'nws',
      baseUrl: 'https://api.weather.gov',
      contact,
    });
  });
});
