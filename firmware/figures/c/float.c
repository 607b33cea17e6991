/* Baseline: the laws and the temperature of float.rs in C, with the target's own compiler and library. */
#include <math.h>
#include <stdint.h>

struct gains { float kp, ki, kd, lo, hi; };
struct state { float integral, filtered; };

static float clamped(float x, float lo, float hi) { return x < lo ? lo : x > hi ? hi : x; }

float float_c_pi(const struct gains *g, struct state *s, float set_point, float measurement)
{
    float error = measurement - set_point;
    float demand = clamped(g->kp * error + s->integral, g->lo, g->hi);
    s->integral = clamped(s->integral + g->ki * error, g->lo, g->hi);
    return demand;
}

float float_c_pid(const struct gains *g, struct state *s, float set_point, float measurement)
{
    float error = measurement - set_point;
    float slope = measurement - s->filtered;
    float demand;
    s->filtered += slope * 0.125f;
    demand = clamped(g->kp * error + g->kd * slope + s->integral, g->lo, g->hi);
    s->integral = clamped(s->integral + g->ki * error, g->lo, g->hi);
    return demand;
}

float float_c_temperature(uint16_t code)
{
    float ratio, celsius;
    if (code == 0) return 150.0f;
    if (code >= 1023) return -40.0f;
    ratio = (float)code / (float)(1024 - code);
    celsius = 1.0f / (1.0f / 298.15f + logf(ratio) * (1.0f / 3950.0f)) - 273.15f;
    return clamped(celsius, -40.0f, 150.0f);
}
