/* How the C pairs place and read their tables on AVR, included before them. */
#include <avr/pgmspace.h>
#define COOL_PI_IN_FLASH PROGMEM
#define COOL_PI_WORD(address) ((int16_t)pgm_read_word(address))
#define COOL_PID_IN_FLASH PROGMEM
#define COOL_PID_WORD(address) ((int16_t)pgm_read_word(address))
#define HEAT_PID_IN_FLASH PROGMEM
#define HEAT_PID_BYTE(address) pgm_read_byte(address)
