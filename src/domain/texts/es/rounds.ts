import type { rounds as english } from '../en/rounds.js';

/** Why the plan is as it is, and what it cannot keep. */
export const rounds: Record<keyof typeof english, string> = {
  'round.reason.locked': 'Fijada a este día.',
  'round.reason.alarm': 'Una alarma la pide antes de {dueMs}.',
  'round.reason.client_call': 'La pidió una persona, antes de {dueMs}.',
  'round.reason.must':
    'Hay que ir a más tardar {lastMs:day}: un día más tarde, la probabilidad de una maceta seca es {riskFraction}.',
  'round.reason.late':
    'Pasado su último día seguro: la probabilidad de que una maceta esté seca en esta visita es {riskFraction}.',
  'round.reason.agreement': 'Se acordó ir a más tardar {lastMs:day}.',
  'round.reason.carry_over': 'Estaba prevista para {plannedMs:day} y no se hizo.',
  'round.reason.care': 'Hay trabajo sin agua antes de {dueMs}.',
  'round.reason.top_up':
    'Podría esperar hasta {lastMs:day}; de paso cuesta {extraMinutes} de camino y ahorra un viaje entonces.',
  'round.reason.frozen': 'En marcha o la próxima cuando se hizo el plan: se queda.',
  'round.not_today.planned':
    'Próxima visita {nextMs:day}; hasta entonces la probabilidad de una maceta seca es {riskFraction}.',
  'round.not_today.later':
    'Ninguna visita en este plan; a su final la probabilidad de una maceta seca es {riskFraction}.',
  'round.not_today.closed': 'Hoy cerrado; próxima visita {nextMs:day}.',
  'round.lock_costs': 'Fijarla cuesta {extraMinutes} de camino y {extraCost} en total.',
  'round.lock_free': 'Fijarla no cuesta nada.',

  'plan.risk.already': 'Puede estar ya seca: ninguna visita llega a tiempo.',
  'plan.risk.nobody_works': 'Nadie trabaja antes de que pueda secarse.',
  'plan.risk.closed': 'El sitio está cerrado hasta que pueda secarse.',
  'plan.risk.nobody_suited': 'Nadie de los que trabajan hasta entonces puede venir aquí. Hace falta: {needs}.',
  'plan.risk.no_tank': 'Nadie de los que trabajan hasta entonces lleva depósito, y el sitio no tiene grifo.',
  'plan.risk.locked': 'La visita está fijada a otro día.',
  'plan.risk.full': 'Las rondas hasta entonces están llenas, o una visita cuesta más que la espera.',

  'plan.refused.held': 'Esta parada está en marcha o es la próxima, y ya no se puede mover.',
  'plan.refused.no_stop': 'El borrador no tiene ninguna parada en este sitio el {day}.',
  'plan.refused.no_round': '{person} no tiene ronda {dayMs:day}: no trabaja, falta, o ya acabó el turno.',
  'plan.refused.no_offer': 'Esta persona ya no puede hacerla hoy. Pregunte otra vez.',
  'plan.refused.no_site': 'No hay ningún sitio así con macetas.',

  'plan.effect.too_long': '{person} acabaría a las {finishMs:time}, pasado el final de las horas extra.',
  'plan.effect.overtime': '{person} hace {overtimeMinutes} extra, hasta las {finishMs:time}.',
  'plan.effect.tank_empty': 'Al depósito de {person} le faltan {shortLitres} en {site}.',
  'plan.effect.not_suited': 'A {person} le falta lo que pide {site}: {needs}.',
  'plan.effect.kept_away': '{person} no debe ir a {site}, o la ronda está fija.',
  'plan.effect.closed': '{site} cierra ese día.',
  'plan.effect.too_late': 'Se llegaría a {site} a las {startMs:time}, ya cerrado.',
  'plan.effect.risk':
    '{pot}, {site}: visita {visitMs:day}, segura hasta {lastMs:day}; probabilidad de estar seca {riskFraction}.',
  'plan.effect.risk_unvisited':
    '{pot}, {site}: sin visita, segura hasta {lastMs:day}; probabilidad de estar seca {riskFraction}.',
  'plan.effect.wish_lock': 'No se cumple que {site} esté fijado a {dayMs:day}.',
  'plan.effect.wish_forbid': '{person} va a {site} contra lo deseado.',
  'plan.effect.wish_not_before': 'Se visita {site} antes de {dayMs:day}.',
  'plan.effect.wish_pin': 'La ronda de {person} de {dayMs:day} no está como se fijó.',

  'plan.assumed.terms': 'No hay horario apuntado de {person}: lunes a viernes, de 07:00 a 16:00.',
  'plan.assumed.no_trucks': 'No hay camiones apuntados: un depósito de {tankLitres} para cada persona.',
  'plan.assumed.no_truck_left': 'No queda camión para {person}: solo sitios con grifo.',
  'plan.assumed.no_depot': 'No hay base apuntada: las rondas empiezan y acaban en medio de los sitios.',
  'plan.assumed.no_crew': 'No hay técnicos, así que nadie puede ir.',
};
