import type { Write, WriteKind } from '../../domain/change-set.js';
import * as access from './access.js';
import * as commissioning from './commissioning.js';
import type { Applier, WriteContext } from './context.js';
import * as crew from './crew.js';
import { derived } from './derived.js';
import * as doors from './doors.js';
import { recordingEdit } from './edits.js';
import { accountErased } from './erasure.js';
import * as notify from './notify.js';
import * as people from './people.js';
import * as plans from './plans.js';
import * as pots from './pots.js';
import * as quarantine from './quarantine.js';
import { readings } from './readings.js';
import * as registry from './registry.js';
import * as retention from './retention.js';
import * as weather from './weather.js';
import * as work from './work.js';

const APPLIERS: { readonly [Kind in WriteKind]: Applier<Kind> } = {
  account: registry.account,
  account_erased: accountErased,
  site: registry.site,
  site_access: access.siteAccess,
  access_look: access.accessLook,
  container: registry.container,
  gateway: registry.gateway,
  node: registry.node,
  assignment: registry.assignment,
  assignment_removed: registry.assignmentRemoved,
  depot: registry.depot,
  truck: registry.truck,
  crew_terms: crew.crewTerms,
  site_terms: crew.siteTerms,
  absence: crew.absence,
  person: people.person,
  person_secret: people.personSecret,
  session: people.session,
  session_ended: people.sessionEnded,
  sessions_ended: people.sessionsEnded,
  invitation: doors.invitation,
  invitation_used: doors.invitationUsed,
  second_factor: doors.secondFactor,
  second_factor_removed: doors.secondFactorRemoved,
  second_factor_used: doors.secondFactorUsed,
  recovery_codes: doors.recoveryCodes,
  recovery_code_used: doors.recoveryCodeUsed,
  api_token: doors.apiToken,
  credential: people.credential,
  readings,
  quarantined: quarantine.quarantined,
  quarantine_resolved: quarantine.quarantineResolved,
  weather_days: weather.weatherDays,
  weather_samples: weather.weatherSamples,
  event_correction: pots.eventCorrection,
  derived,
  checkpoints: pots.checkpoints,
  reading_horizon: retention.readingHorizon,
  readings_expired: retention.readingsExpired,
  changes_expired: retention.changesExpired,
  status: pots.status,
  forecast: pots.forecast,
  finding: pots.finding,
  calibration: pots.calibration,
  alarm: work.alarm,
  alarm_transition: work.alarmTransition,
  alarm_override: work.alarmOverride,
  task: work.task,
  task_transition: work.taskTransition,
  round_stop: work.roundStop,
  published_visit: plans.publishedVisit,
  plan_version: plans.planVersion,
  learned_pace: plans.learnedPace,
  visit: work.visit,
  visit_verification: work.visitVerification,
  alert: work.alert,
  job_ran: work.jobRan,
  address: notify.address,
  contact_rules: notify.contactRules,
  outbox: notify.outbox,
  calendar_feed: notify.calendarFeed,
  firm: commissioning.firm,
  pour_record: commissioning.pourRecord,
  fast_report: commissioning.fastReport,
};

export function applyWrite(context: WriteContext, write: Write): void {
  // The kind picks the function, so that the two belong together; the compiler cannot follow that through a table.
  const apply = APPLIERS[write.kind] as (context: WriteContext, write: Write) => void;
  recordingEdit(context, write, () => apply(context, write));
}
