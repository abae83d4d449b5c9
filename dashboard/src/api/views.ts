import type * as wire from '../../../src/http/schemas/index.js';
import type { Unwire } from './unwire.js';

/** The views of the server as the page holds them: instants in epoch milliseconds. */
export type Me = Unwire<wire.Me>;
export type Today = Unwire<wire.Today>;
export type StopView = Unwire<wire.StopView>;
export type StopPlan = Unwire<wire.StopPlan>;
export type TaskView = Unwire<wire.TaskView>;
export type PotGlance = Unwire<wire.PotGlance>;
export type RoundView = Unwire<wire.RoundView>;
export type RoundStopView = Unwire<wire.RoundStopView>;
export type InvitationShown = Unwire<wire.InvitationShown>;
export type SecondFactor = wire.SecondFactorJson;
export type SecondFactorBegun = wire.SecondFactorBegun;
export type SiteAccess = wire.SiteAccessJson;
export type Alert = Unwire<wire.AlertJson>;
export type AlarmView = Unwire<wire.AlarmView>;
export type AlarmPerformance = Unwire<wire.AlarmPerformanceJson>;
export type AlarmEntry = wire.AlarmCatalogueEntry;
export type AlarmOverride = Unwire<wire.AlarmOverrideJson>;
export type Undelivered = Unwire<wire.UndeliveredJson>;
export type Crew = wire.CrewJson;
export type SiteTerms = wire.SiteTermsJson;
export type Site = wire.SiteJson;
export type SensorNode = wire.NodeJson;
export type ContactRules = wire.ContactRulesJson;
export type Addresses = Unwire<wire.AddressesJson>;
export type Calendar = Unwire<wire.CalendarJson>;
export type Plan = Unwire<wire.PlanJson>;
export type PlanRound = wire.DraftRoundJson;
export type PlanStop = wire.DraftStopJson;
export type PlanEdit = wire.PlanEditBody;
export type PlanChange = wire.PlanChangeJson;
export type PlanConsequences = Unwire<wire.PlanConsequencesJson>;
export type PlanTotals = wire.PlanTotalsJson;
export type SiteStory = Unwire<wire.SiteStoryJson>;
export type UrgentOffer = Unwire<wire.OfferJson>;
export type Supposed = Unwire<wire.SupposedJson>;
export type VisitView = Unwire<wire.VisitView>;
export type ContainerItem = Unwire<wire.ContainerItem>;
export type ContainerDetail = Unwire<wire.ContainerDetail>;
export type Status = Unwire<wire.StatusJson>;
export type Finding = Unwire<wire.FindingJson>;
export type EventCorrection = Unwire<wire.CorrectionJson>;
export type PotEvent = Unwire<wire.EventJson>;
export type Series = Unwire<wire.Series>;
export type Resolution = wire.Resolution;
export type LedgerDay = wire.LedgerDayJson;
export type WaterSum = wire.WaterSum;
export type Water = wire.Water;
export type Person = Unwire<wire.PersonJson>;
export type Quantiles = Unwire<wire.QuantilesJson>;
export type Preferences = wire.Preferences;

export interface PageOf<Item> {
  readonly items: readonly Item[];
  readonly nextCursor: string | null;
}
