/* A C trial on the simulated AVR: characters through the serial port, tables in flash. */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/pgmspace.h>
#include <avr/sleep.h>
#define LOOP_IN_FLASH PROGMEM
#define LOOP_WORD(address) ((int16_t)pgm_read_word(address))
#define LOOP_BYTE(address) pgm_read_byte(address)
static inline void put(char character)
{
    UCSR0B |= 1 << TXEN0;
    while (!(UCSR0A & (1 << UDRE0))) { }
    UDR0 = (uint8_t)character;
}
#define PUT(character) put(character)
/* Sleeping with interrupts off ends the simulation; the last byte leaves first. */
#define END() put('\n'); put('\n'); cli(); sleep_enable(); sleep_cpu(); return 0
